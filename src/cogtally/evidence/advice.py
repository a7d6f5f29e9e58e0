"""What to count next: the worth of a count of every wheel, and of a turn test of every gear.

The joint of answers with teeth or ratios comes from `joints`, the bits of a count from `worth`,
those of a turn test from `turn_worth`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.assembled import read_posterior
from cogtally.evidence.posterior import Posterior, first_answers
from cogtally.evidence.weighed import Weighed, weigh
from cogtally.gears.notation import Seen

if TYPE_CHECKING:
    from cogtally.evidence.look_worth import LookWorth

#: "nothing is worth 0.05 bit": below this a further count is not worth the while.
SMALL_WORTH = 0.05
#: "no answer has 0.90"
SETTLED = 0.90
#: "the hand is likely hasty"
LIKELY = 0.5


@dataclass(frozen=True, slots=True)
class Worth:
    """What one more look is expected to bring, in bits.

    A count of `wheel`, or a turn test of `gear` with `turns` whole turns in.
    """

    bits: float
    wheel: str = ""
    gear: str = ""
    turns: int = 0


@dataclass(frozen=True, slots=True)
class Advice:
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
    weighed = weigh(catalog, seen, family)
    gears = _gears_by_worth(weighed) if turns else ()
    return _advice(weighed, _wheels_by_worth(weighed), gears, _looks(weighed))


def advise_briefly(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return as much advice as a screen needs: none of it where nothing can be worth the while.

    Turn tests compete where no wheel was counted, or where no further count is worth much: they
    take longer to weigh.
    """
    weighed = weigh(catalog, seen, family)
    at_most = _entropy_of(read_posterior(weighed))
    if at_most < SMALL_WORTH:
        return Advice((), (), at_most, False)
    wheels = _wheels_by_worth(weighed)
    worthless = bool(wheels) and wheels[0].bits < SMALL_WORTH
    turns = worthless or not seen.counts
    gears = _gears_by_worth(weighed) if turns else ()
    return _advice(weighed, wheels, gears, _looks(weighed))


def advise_shut(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return the advice for a box that stays shut: turn tests alone."""
    weighed = weigh(catalog, seen, family)
    gears = _gears_by_worth(weighed)
    return _advice(weighed, (), gears, _looks(weighed))


def _advice(
    weighed: Weighed,
    wheels: tuple[Worth, ...],
    gears: tuple[Worth, ...],
    looks: tuple[LookWorth, ...],
) -> Advice:
    posterior = read_posterior(weighed)
    most = max([worth.bits for worth in [*wheels, *gears]], default=0.0)
    best = max((a.probability for a in first_answers(posterior, 1)), default=0.0)
    again = most < SMALL_WORTH and posterior.steady < LIKELY and best < SETTLED
    return Advice(wheels, gears, _entropy_of(posterior), again, looks)


def _looks(weighed: Weighed) -> tuple[LookWorth, ...]:
    """The marks and features of the leading family, falling; those of most families are unknown."""
    leading = _leading(weighed)
    if leading is None or not any(s.marks or s.features for s in leading.counted_sets):
        return ()
    from cogtally.evidence.look_worth import looks_by_worth

    return looks_by_worth(weighed, leading)


def _leading(weighed: Weighed) -> Family | None:
    return weighed.ready.catalog.by_id.get(read_posterior(weighed).leading)


def _wheels_by_worth(weighed: Weighed) -> tuple[Worth, ...]:
    """Every wheel of the leading family, falling."""
    from cogtally.evidence.joints import joint_with_teeth
    from cogtally.evidence.worth import expected_fall

    family = _leading(weighed)
    if family is None:
        return ()
    joints = joint_with_teeth(weighed, family.train.wheels)
    found = [Worth(expected_fall(list(j.values())), wheel=w) for w, j in joints.items()]
    return tuple(sorted(found, key=lambda worth: -worth.bits))


def _gears_by_worth(weighed: Weighed) -> tuple[Worth, ...]:
    """The best turn test of every gear of the leading family, falling."""
    from cogtally.evidence.joints import gears_of, joint_with_ratios
    from cogtally.evidence.turn_spread import spread_of
    from cogtally.evidence.turn_worth import best_turns

    family = _leading(weighed)
    if family is None:
        return ()
    found = []
    for gear, joint in joint_with_ratios(weighed, gears_of(family)).items():
        bits, turns = best_turns([spread_of(answer) for answer in joint.values()])
        found.append(Worth(bits, gear=gear, turns=turns))
    return tuple(sorted(found, key=lambda worth: -worth.bits))


def _entropy_of(posterior: Posterior) -> float:
    """The entropy of the answer, in bits: nothing that could be seen is worth more."""
    return -sum([p * log2(p) for a in posterior.answers if (p := a.probability) > 0])
