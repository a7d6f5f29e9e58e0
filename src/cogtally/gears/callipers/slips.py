"""Slips that would explain measurements which nothing explains without wear.

What explains measurements is left to `callipers`, which hands its search in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from cogtally.gears.callipers.explain import SOUND, state
from cogtally.gears.callipers.fit import Fit
from cogtally.gears.callipers.measured import (
    FEWEST_TEETH,
    INCHES,
    JAWS,
    MILLIMETRES,
    UNITS,
    Measured,
    Span,
)
from cogtally.gears.callipers.standards import ANGLES

#: Slips named at most.
MOST_SLIPS = 3


def slips(seen: Measured, search: Callable[[Measured], list[Fit]]) -> tuple[str, ...]:
    """Return a sentence for each single slip after which a plain standard fits.

    `search` returns the fits of measurements, cheapest first. Plain: 20° or 14.5°, of a preferred
    row or the second, and sound.
    """
    found: list[tuple[float, str]] = []
    for sentence, other in _single_slips(seen):
        for fit in search(other):
            plain = fit.standard.pitch.row <= 2 and fit.standard.angle_deg in ANGLES[:2]
            if plain and state(fit, other) == SOUND:
                found.append((fit.cost, f"{sentence} {fit.standard.name} would fit"))
                break
    return tuple(sentence for _, sentence in sorted(found)[:MOST_SLIPS])


def _single_slips(seen: Measured) -> Iterator[tuple[str, Measured]]:
    """Yield (beginning of a sentence, measurements) for each slip that is easily made."""
    if seen.teeth is not None:
        for teeth in (seen.teeth - 1, seen.teeth + 1):
            if teeth >= FEWEST_TEETH:
                yield f"with {teeth} teeth", replace(seen, teeth=teeth)
    if seen.spans:
        for by in (-1, 1):
            moved = tuple(Span(s.across + by, s.length) for s in seen.spans)
            if moved[0].across >= 1:
                counts = " and ".join(str(s.across) for s in moved)
                yield f"with spans across {counts} teeth", replace(seen, spans=moved)
    for i, span in enumerate(seen.spans):
        rest = seen.spans[:i] + seen.spans[i + 1 :]
        if rest or seen.outside is not None:
            yield f"without the span across {span.across} teeth", replace(seen, spans=rest)
    if seen.outside is not None:
        if seen.teeth is not None and seen.teeth % 2:
            for jaws in JAWS:
                if jaws != seen.jaws:
                    yield f"with the diameter taken as {jaws!r}", replace(seen, jaws=jaws)
        other = INCHES if seen.unit == MILLIMETRES else MILLIMETRES
        length = seen.outside / UNITS[seen.unit] * UNITS[other]
        yield f"with the outside diameter in {other}", replace(seen, outside=length)
        if seen.spans:
            yield "without the outside diameter", replace(seen, outside=None, jaws=None)
