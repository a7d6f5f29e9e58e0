"""What to count next: the worth of a count of every wheel, and of a turn test of every gear.

The joints come from `joints`, the bits from `count_worth`, `turn_worth` and `look_worth`.
"""

from __future__ import annotations

from typing import NamedTuple

from cogtally.catalog.model import Catalog
from cogtally.evidence.advice.count_worth import entropy
from cogtally.evidence.advice.joints import Joints
from cogtally.evidence.advice.look_worth import LookWorth, looks_by_worth
from cogtally.evidence.engine import ask
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
    joints = Joints(ask(catalog, seen, family), turns=turns)
    return _advice(joints, _wheels(joints), _turns(joints))


def advise_briefly(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return as much advice as a screen needs: none of it where nothing can be worth the while.

    Turn tests compete where no wheel was counted, or where no further count is worth much: they
    take longer to weigh.
    """
    asking = ask(catalog, seen, family)
    at_most = entropy(asking.posterior.answers.probabilities)
    if at_most < SMALL_WORTH:
        return Advice((), (), at_most, False)
    joints = Joints(asking, turns=not seen.counts)
    wheels = _wheels(joints)
    if seen.counts and wheels and wheels[0].bits < SMALL_WORTH:
        joints = Joints(asking, turns=True)
    return _advice(joints, wheels, _turns(joints))


def advise_shut(catalog: Catalog, seen: Seen, family: str | None = None) -> Advice:
    """Return the advice for a box that stays shut: turn tests alone."""
    joints = Joints(ask(catalog, seen, family), turns=True)
    return _advice(joints, (), _turns(joints))


def _wheels(joints: Joints) -> tuple[Worth, ...]:
    """The worth of a count of every wheel of the leading family, falling."""
    wheels = joints.leading.train.wheels if joints.leading else ()
    found = [Worth(joint.worth(), wheel=wheel) for wheel, joint in joints.teeth(wheels).items()]
    return tuple(sorted(found, key=lambda worth: -worth.bits))


def _turns(joints: Joints) -> tuple[Worth, ...]:
    """The best turn test of every gear, falling."""
    best = ((joints.speeds(gear).best_turns(), gear) for gear in joints.gears)
    found = [Worth(bits, gear=gear, turns=turns) for (bits, turns), gear in best]
    return tuple(sorted(found, key=lambda worth: -worth.bits))


def _advice(joints: Joints, wheels: tuple[Worth, ...], turns: tuple[Worth, ...]) -> Advice:
    """The advice, with the worth of every mark and feature."""
    chances = joints.posterior.answers.probabilities
    most = max([worth.bits for worth in [*wheels, *turns]], default=0.0)
    again = most < SMALL_WORTH and joints.posterior.steady < LIKELY and max(chances) < SETTLED
    looks = looks_by_worth(joints, joints.leading) if joints.leading else ()
    return Advice(wheels, turns, entropy(chances), again, looks)
