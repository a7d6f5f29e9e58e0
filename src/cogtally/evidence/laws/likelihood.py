"""Every constant and law of the evidence model: what is seen, given what is true.

What can be true, and how often, is left to `prior`. The wording behind each number stands in the
README of this folder; where that page and this room differ, one of them is a bug.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import erfc, exp, log, pi, sqrt

from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, Count, Turn

# What can be true of a box.
UNCATALOGUED_PRIOR = 0.10  # "It is of no family in the catalog: prior 0.10"
UNLISTED = 0.006  # "0.006 unlisted"
FOREIGN = 0.024  # "0.024 foreign: another listed type of that piece"
OWN = 0.97  # "else (0.97) the type that s says"
CHANGED_SHARE = 0.5  # "half of the time a listed type … in which one wheel … has other teeth"
LOOSE_UNLISTED = 0.04  # of a loose piece: "0.96 is the type as listed, 0.04 unlisted"

# A set that the family has and the catalog lacks.
NEW_SET = 0.04  # "with 0.04 the counted set that was drawn only names the family"
AS_LISTED_WHEEL = 0.25  # "with 0.25 as one of the family's counted sets has that wheel"
NEW_SUM_OFF = (1.0, 0.03, 0.003)  # "its factor of point 4 is 1, 0.03, 0.003, 0.001"

# Teeth that are unknown.
LEAST_TEETH, GREATEST_TEETH = 5, 99  # "uniform over 5…99"
RHO_UNIFORM = 0.2  # "0.2 uniform over 5…99"
RHO_NEAR = 0.8  # "0.8 near what the whole catalog has for a wheel of that name"
RHO_SPREAD = 0.7  # "spread as 0.7^|t−t₀|"
LISTED_SHARE = 0.5  # "half the listed teeth of that wheel in the family by commonness, half ρ"

# Fixed centres: "0 off 1.0, 1 off 0.3, 2 off 0.03, more 0.001".
SUM_OFF = (1.0, 0.3, 0.03)
SUM_FAR = 0.001
HIGHEST_SUM = 2 * MOST_TEETH

# Hands and angles: "two wheels in mesh that cannot run together: 0.001".
CLASH = 0.001
ANGLES_APART = 1.0  # "helix angles more than 1° apart"
_RUN_TOGETHER = frozenset(
    {("left", "right"), ("right", "left"), ("straight", "straight"), ("double", "double")}
)

# The hand, and counts.
HAND_PRIOR = (0.8, 0.2)  # "A hand is steady (0.8) or hasty (0.2)"
STEADY, HASTY = 0, 1
Q_OF_HAND = (0.01, 0.06)  # "q = 0.01 from a steady hand, 0.06 from a hasty one"
Q_UNSURE = 0.20  # "0.20 for a count marked unsure"
SLIP = 0.005  # "a slip (the wrong wheel, the wrong line) of s = 0.005 over 4…200"
COUNTS_POSSIBLE = MOST_TEETH - FEWEST_TEETH + 1  # "s/197"
NOT_THERE = 0.001  # "0.001 for each pair with such a wheel", "then also 0.001"

# Turn tests.
READING_SD = 1 / 48  # "standard deviation 1/48 turn"
READING_SLIP = 0.005  # "With probability 0.005 …: density 1/(x ln 100)"
READING_SPAN = log(100)  # in/out lies in 0.2…20, two decades

TEETH_RANGE = range(LEAST_TEETH, GREATEST_TEETH + 1)


def count_law(off: int, q: float) -> float:
    """Return the probability of a count that is `off` teeth from the truth, from a hand of `q`.

    A discrete Laplace error and a slip: (1−s)(1−q)/(1+q)·q^off + s/197.
    """
    return (1 - SLIP) * (1 - q) / (1 + q) * q**off + SLIP / COUNTS_POSSIBLE


def _logs(q: float) -> list[float]:
    return [log(count_law(off, q)) for off in range(MOST_TEETH + 1)]


_LOG_LAW = {q: _logs(q) for q in (*Q_OF_HAND, Q_UNSURE)}

#: So many laws of one count, and of several counts of one wheel, are kept.
_LAWS_KEPT = 512


@dataclass(frozen=True, slots=True)
class WheelLikelihood:
    """The likelihood of all counts of one wheel, for every number of teeth and one hand.

    `by_teeth[t]` for t in 0…200, scaled so that the greatest among the teeth in question is 1;
    `log_scale` is the natural logarithm of what was divided out. Other teeth are never asked for.
    """

    by_teeth: Sequence[float]
    log_scale: float


def wheel_likelihood(
    counts: Iterable[Count], hand: int, also: Iterable[int] = ()
) -> WheelLikelihood:
    """Return the likelihood of the counts of one wheel from `hand`.

    It is scaled over the teeth in question: 5…99 and `also`.
    """
    found = tuple([(c.teeth, Q_UNSURE if c.unsure else Q_OF_HAND[hand], c.times) for c in counts])
    if len(found) == 1 and LEAST_TEETH <= found[0][0] <= GREATEST_TEETH:
        return _of_one(*found[0], 0)
    if len(found) == 1:
        teeth = found[0][0]
        outside = min(abs(teeth - LEAST_TEETH), abs(teeth - GREATEST_TEETH))
        return _of_one(*found[0], min([outside, *[abs(teeth - t) for t in also]]))
    return _of_several(found, frozenset(t for t in also if t not in TEETH_RANGE))


@lru_cache(maxsize=_LAWS_KEPT)
def _of_one(teeth: int, q: float, times: int, nearest: int) -> WheelLikelihood:
    """The likelihood of one result; the teeth in question are `nearest` off it or farther."""
    by_off, scale = _by_off(q, times, nearest)
    return WheelLikelihood(by_off[MOST_TEETH - teeth : 2 * MOST_TEETH + 1 - teeth], scale)


@lru_cache(maxsize=_LAWS_KEPT)
def _by_off(q: float, times: int, nearest: int) -> tuple[list[float], float]:
    """The likelihood by how far off the teeth are, from 200 below to 200 above; its log scale."""
    law = _LOG_LAW[q]
    scale = times * law[nearest]
    above = [exp(min(times * value - scale, 0.0)) for value in law]
    return above[:0:-1] + above, scale


@lru_cache(maxsize=_LAWS_KEPT)
def _of_several(
    counts: tuple[tuple[int, float, int], ...], also: frozenset[int]
) -> WheelLikelihood:
    logs = [0.0] * (MOST_TEETH + 1)
    for teeth, q, times in counts:
        law = _LOG_LAW[q]
        mirrored = law[teeth:0:-1] + law[: MOST_TEETH + 1 - teeth]
        logs = [a + times * b for a, b in zip(logs, mirrored, strict=True)]
    scale = max([logs[t] for t in (*TEETH_RANGE, *also)])
    return WheelLikelihood([exp(min(value - scale, 0.0)) for value in logs], scale)


def likeliest_teeth(counts: Iterable[Count], among: range | tuple[int, ...] = TEETH_RANGE) -> int:
    """Return the teeth that the counts make likeliest from a steady hand, the lower on a tie."""
    return _likeliest(tuple((c.teeth, c.unsure, c.times) for c in counts), among)


@lru_cache(maxsize=_LAWS_KEPT)
def _likeliest(counts: tuple[tuple[int, bool, int], ...], among: range | tuple[int, ...]) -> int:
    laws = [
        (teeth, times, _LOG_LAW[Q_UNSURE if u else Q_OF_HAND[STEADY]]) for teeth, u, times in counts
    ]

    def log_likelihood(teeth: int) -> float:
        return sum(times * law[abs(counted - teeth)] for counted, times, law in laws)

    return max(among, key=lambda teeth: (log_likelihood(teeth), -teeth))


def sum_factor(off: int) -> float:
    """Return the factor of two wheels in mesh whose tooth sum is `off` from the nearest known."""
    return SUM_OFF[off] if off < len(SUM_OFF) else SUM_FAR


@dataclass(frozen=True, slots=True)
class Helix:
    """What is known of the teeth of a wheel: `hand` and `angle` in degrees, None if not known."""

    hand: str | None = None
    angle: float | None = None

    @property
    def degrees(self) -> float | None:
        """The angle; straight teeth have none."""
        return 0.0 if self.angle is None and self.hand == "straight" else self.angle


def clashes(left: Helix, right: Helix) -> bool:
    """Tell whether two wheels cannot run in mesh.

    They are not of opposite hands, both straight or both double, or their angles are more than
    1° apart. What is not known clashes with nothing.
    """
    if left.hand and right.hand and (left.hand, right.hand) not in _RUN_TOGETHER:
        return True
    a, b = left.degrees, right.degrees
    return a is not None and b is not None and abs(a - b) > ANGLES_APART


@dataclass(frozen=True, slots=True)
class Reading:
    """What was read in a turn test: `value` turns, and what a ratio r leads one to expect.

    The mean is `factor`/r where the output was read, `factor`·r where the input was.
    """

    value: float
    factor: float
    reads_input: bool

    def mean(self, ratio: float) -> float:
        """Return the reading that `ratio` (turns in for one turn out) leads one to expect."""
        return self.factor * ratio if self.reads_input else self.factor / ratio


def reading_of(turn: Turn) -> Reading:
    """Return what was read in a turn test; with one wheel held the other turns twice as far."""
    held = 2 if turn.held else 1
    if turn.reads_input:
        return Reading(float(turn.turns_in), float(turn.turns_out / held), True)
    return Reading(float(turn.turns_out), float(turn.turns_in * held), False)


def no_ratio_density(reading: Reading) -> float:
    """Return the density of a reading where there is no ratio: 1/(x ln 100)."""
    return 1 / (reading.value * READING_SPAN)


def reading_density(reading: Reading, ratio: Fraction | float) -> float:
    """Return the density of a reading where the box has `ratio`."""
    off = (reading.value - reading.mean(float(ratio))) / READING_SD
    normal = exp(-off * off / 2) / (READING_SD * sqrt(2 * pi))
    return (1 - READING_SLIP) * normal + READING_SLIP * no_ratio_density(reading)


def interval_density(reading: Reading, low: Fraction, high: Fraction) -> float:
    """Return the density of a reading whose mean is uniform between what two ratios give."""
    ends = sorted((reading.mean(float(low)), reading.mean(float(high))))
    if ends[1] - ends[0] < 1e-12 * ends[1]:
        return reading_density(reading, low)
    width = ends[1] - ends[0]
    inside = _between(
        (reading.value - ends[1]) / READING_SD, (reading.value - ends[0]) / READING_SD
    )
    return (1 - READING_SLIP) * inside / width + READING_SLIP * no_ratio_density(reading)


def greatest_density(reading: Reading) -> float:
    """Return a bound on the density of a reading, whatever the ratio."""
    return (1 - READING_SLIP) / (READING_SD * sqrt(2 * pi)) + READING_SLIP * no_ratio_density(
        reading
    )


def _between(low: float, high: float) -> float:
    """The standard normal probability of low…high, kept accurate in either tail."""
    if low > 0:
        return (erfc(low / sqrt(2)) - erfc(high / sqrt(2))) / 2
    return (erfc(-high / sqrt(2)) - erfc(-low / sqrt(2))) / 2
