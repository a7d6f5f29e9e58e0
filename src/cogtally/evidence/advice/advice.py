"""What to count next: the worth of a count of every wheel, and of a turn test of every gear.

The joints come from `joints`, the bits from `count_worth`, `turn_worth` and `look_worth`.
"""

from __future__ import annotations

from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.advice.count_worth import entropy
from cogtally.evidence.advice.joints import Joints
from cogtally.evidence.advice.look_worth import LookWorth, looks_by_worth
from cogtally.evidence.engine import Asking, ask
from cogtally.evidence.posterior import Posterior, first_answers
from cogtally.gears.notation import Seen

#: "nothing is worth 0.05 bit": below this a further count is not worth the while.
SMALL_WORTH = 0.05
#: "no answer has 0.90"
SETTLED = 0.90
#: "the hand is likely hasty"
LIKELY = 0.5


class Worth(NamedTuple):
    """What one more look is expected to bring, in bits.

    A count of `wheel`, or a turn test of `gear` with `turns` whole turns in.
    """

    bits: float
    wheel: str = ""
    gear: str = ""
    turns: int = 0


class Advice(NamedTuple):
    """The worth of every wheel of the leading family and of every gear, each falling.

    `at_most`: the entropy of the answer; nothing can be worth more. `count_all_again`: one count
    ahead can miss what several recounts would show. `looks`: the worth of looking at each mark and
    feature in which types of the leading family differ, falling.
    """

    wheels: tuple[Worth, ...]
    turns: tuple[Worth, ...]
    at_most: float
    count_all_again: bool
    looks: tuple[LookWorth, ...] = ()

    @property
    def best(self) -> Worth | None:
        """The look that is worth most; a count before a turn test of the same worth."""
        return max([*self.wheels, *self.turns], key=lambda worth: worth.bits, default=None)


def advise(
    catalog: Catalog, seen: Seen, family: str | None = None, *, turns: bool = True
) -> Advice:
    """Return what every further count and, with `turns`, turn test is expected to bring."""
    asked = _Asked(catalog, seen, family, turns)
    return asked.advice(asked.wheels(), asked.gears() if turns else ())


def advise_briefly(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return as much advice as a screen needs: none of it where nothing can be worth the while.

    Turn tests compete where no wheel was counted, or where no further count is worth much: they
    take longer to weigh.
    """
    asked = _Asked(catalog, seen, family, not seen.counts)
    if asked.at_most < SMALL_WORTH:
        return Advice((), (), asked.at_most, False)
    wheels = asked.wheels()
    if seen.counts and wheels and wheels[0].bits < SMALL_WORTH:
        asked = _Asked(catalog, seen, family, True)
    return asked.advice(wheels, asked.gears())


def advise_shut(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return the advice for a box that stays shut: turn tests alone."""
    asked = _Asked(catalog, seen, family, True)
    return asked.advice((), asked.gears())


class _Asked:
    """One question with the joints around it; with `turns` those of gears too."""

    def __init__(self, catalog: Catalog, seen: Seen, family: str | None, turns: bool) -> None:
        found: Asking = ask(catalog, seen, family)
        self._posterior: Posterior = found.posterior
        self._leading: Family | None = catalog.by_id.get(found.posterior.leading)
        self._gears = gears_of(self._leading) if turns and self._leading is not None else ()
        self._joints = Joints(found.weighed, found.read, self._gears)
        # Nothing that could be seen is worth more than the entropy of the answer.
        self.at_most = entropy(found.posterior.answers.probabilities)

    def wheels(self) -> tuple[Worth, ...]:
        """Return the worth of a count of every wheel of the leading family, falling."""
        if self._leading is None:
            return ()
        joints = self._joints.teeth(self._leading.train.wheels)
        found = [Worth(joint.worth(), wheel=wheel) for wheel, joint in joints.items()]
        return tuple(sorted(found, key=lambda worth: -worth.bits))

    def gears(self) -> tuple[Worth, ...]:
        """Return the best turn test of every gear, falling."""
        found = []
        for gear in self._gears:
            bits, turns = self._joints.speeds(gear).best_turns()
            found.append(Worth(bits, gear=gear, turns=turns))
        return tuple(sorted(found, key=lambda worth: -worth.bits))

    def advice(self, wheels: tuple[Worth, ...], gears: tuple[Worth, ...]) -> Advice:
        """Return the advice, with the worth of every mark and feature."""
        most = max([worth.bits for worth in [*wheels, *gears]], default=0.0)
        best = max((a.probability for a in first_answers(self._posterior, 1)), default=0.0)
        again = most < SMALL_WORTH and self._posterior.steady < LIKELY and best < SETTLED
        sets = self._leading.counted_sets if self._leading is not None else ()
        known = self._leading if any(s.marks or s.features for s in sets) else None
        looks = () if known is None else looks_by_worth(self._joints, known)
        return Advice(wheels, gears, self.at_most, again, looks)


def gears_of(family: Family) -> tuple[str, ...]:
    """Return the gears of a family; of one known by print alone, those that are printed."""
    if family.counted_sets:
        return family.train.gears
    return tuple(dict.fromkeys(g for known in family.ratio_only_sets for g in known.ratios))
