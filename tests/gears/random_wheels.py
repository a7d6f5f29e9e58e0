"""Random wheels, measured with noise: what `gauge` is tried on."""

import random
from collections.abc import Iterable
from dataclasses import dataclass
from math import exp
from typing import Any

from cogtally.gears.callipers.fit import Explanation
from cogtally.gears.callipers.measured import (
    TOLERANCE_MM,
    UNITS,
    Measured,
    Span,
    across_odd,
    checked,
)
from cogtally.gears.callipers.standards import Shape, Standard, standards
from cogtally.gears.callipers.wheel import rarity

#: Sizes that gearboxes have, mm.
FINEST, COARSEST = 1.25, 6.5
#: Lengths are read this near, evenly spread, mm; helix angles this near, degrees.
NOISE_MM, NOISE_DEG = 0.02, 0.5


def measured(
    teeth: int | None = None,
    spans: Iterable[tuple[int, float]] = (),
    unit: str = "mm",
    tolerance: float | None = None,
    **read: Any,
) -> Measured:
    """Return what was read of a wheel, its lengths in `unit`, looked at; raise UserError."""
    by = UNITS[unit]
    for name in {"outside", "centres", "width", "depth"} & read.keys():
        read[name] *= by
    taken = tuple(Span(across, length * by) for across, length in sorted(spans))
    near = TOLERANCE_MM if tolerance is None else tolerance * by
    return checked(Measured(teeth, spans=taken, unit=unit, tolerance=near, **read))


@dataclass(frozen=True)
class TrueWheel:
    """One wheel as it is, and all its measurements as they were read, by keyword of `measured`."""

    standard: Standard
    teeth: int
    helix: float
    shift: float
    read: dict[str, object]

    def is_held_by(self, explanation: Explanation) -> bool:
        """Whether an explanation is this wheel, within half a degree and a twentieth module."""
        fit = explanation.fit
        return (
            explanation.standard == self.standard
            and fit.teeth == self.teeth
            and abs(fit.helix - self.helix) <= max(0.5, fit.helix_error)
            and abs(fit.shift - self.shift) <= max(0.05, fit.shift_error)
        )


def centres_of(both: Shape, shifts: float) -> float:
    """Return the centre distance at which the teeth of two wheels leave no backlash, by halving."""
    near, far = both.base / 2, both.reference
    for _ in range(60):
        middle = (near + far) / 2
        near, far = (middle, far) if both.sum_of_shifts(middle) < shifts else (near, middle)
    return far


def random_wheel(rng: random.Random, by_commonness: bool, cut: float = 0.0) -> TrueWheel:
    """Return a wheel that can be made and spanned twice, tips lowered by `cut` mm of diameter."""
    pool = [s for s in standards() if FINEST <= s.module_mm <= COARSEST]
    weights = [exp(-rarity(s)) for s in pool]
    while True:
        standard = rng.choices(pool, weights)[0] if by_commonness else rng.choice(pool)
        teeth, shift = rng.randint(12, 50), rng.gauss(0, 0.25)
        helix = 0.0 if rng.random() < 0.5 else rng.uniform(10, 40)
        other, others_shift = rng.randint(15, 50), rng.uniform(-0.3, 0.5)
        shape = standard.shape(teeth, helix, shift)
        if not shape.least_shift <= shift <= 0.8 or shift < -0.5:
            continue
        outside, best = shape.tip, shape.best_span
        if shape.thickness(outside) < 0.2 * shape.module:
            continue
        true = {k: shape.span(k) for k in (best - 1, best, best + 1) if k}
        ends = outside - cut - 0.1
        can = [k for k, w in true.items() if shape.form - 0.1 <= shape.contact(w) <= ends]
        if len(can) < 2:
            continue
        centres = centres_of(standard.shape(teeth + other, helix), shift + others_shift)

        def noisy(length: float) -> float:
            return length + rng.uniform(-NOISE_MM, NOISE_MM)

        read: dict[str, object] = {
            "outside": noisy((outside - cut) * across_odd(teeth, "points")),
            "jaws": "points",
            "spans": [(k, noisy(true[k])) for k in can[-2:]],
            "helix": helix + rng.uniform(-NOISE_DEG, NOISE_DEG) if helix else 0.0,
            "helix_tolerance": NOISE_DEG,
            "centres": noisy(centres),
            "mate": other,
        }
        return TrueWheel(standard, teeth, helix, shift, read)
