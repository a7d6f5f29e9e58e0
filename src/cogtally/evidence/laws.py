"""Every constant and law of the evidence model: what is seen, given what is true.

What can be true, and how often, is left to the engine, how what nobody knows is spread to `rho`.
The wording of each number stands in the README beside this; where they differ, one is a bug.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from math import erfc, exp, log, pi, sqrt
from typing import NamedTuple

from cogtally.gears.looks import COUNTED, KINDS, LOST, OUTSIDE, UNREAD, Value, mark_key
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, Count, ReadFeature, Turn

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

# Hands and angles: "two wheels in mesh that cannot run together: 0.001".
CLASH = 0.001
ANGLES_APART = 1.0  # "helix angles more than 1° apart"
_RUN_TOGETHER = frozenset(
    {("left", "right"), ("right", "left"), ("straight", "straight"), ("double", "double")}
)

# The hand, and counts.
HAND_PRIOR = (0.8, 0.2)  # "A hand is steady (0.8) or hasty (0.2)"
STEADY, HASTY = HANDS = (0, 1)
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


_LOG_LAW = {
    q: [log(count_law(off, q)) for off in range(MOST_TEETH + 1)] for q in (*Q_OF_HAND, Q_UNSURE)
}

#: So many laws of the counts of one wheel are kept.
_LAWS_KEPT = 512


class WheelLikelihood(NamedTuple):
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
    logs = _logs_of(tuple([(c.teeth, c.unsure, c.times) for c in counts]), hand)
    scale = max([logs[t] for t in (*TEETH_RANGE, *also)])
    return WheelLikelihood([exp(min(value - scale, 0.0)) for value in logs], scale)


def likeliest_teeth(counts: Iterable[Count], among: Iterable[int] = TEETH_RANGE) -> int:
    """Return the teeth that the counts make likeliest from a steady hand, the lower on a tie."""
    logs = _logs_of(tuple([(c.teeth, c.unsure, c.times) for c in counts]), STEADY)
    return max(among, key=lambda teeth: (logs[teeth], -teeth))


@lru_cache(maxsize=_LAWS_KEPT)
def _logs_of(counts: tuple[tuple[int, bool, int], ...], hand: int) -> list[float]:
    """The log likelihood of counts of one wheel, (teeth, unsure, times), by its teeth 0…200."""
    logs = [0.0] * (MOST_TEETH + 1)
    for teeth, unsure, times in counts:
        law = _LOG_LAW[Q_UNSURE if unsure else Q_OF_HAND[hand]]
        mirrored = law[teeth:0:-1] + law[: MOST_TEETH + 1 - teeth]
        logs = [a + times * b for a, b in zip(logs, mirrored, strict=True)]
    return logs


class Helix(NamedTuple):
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


class Reading(NamedTuple):
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
    return _or_slip(reading, _normal(reading.value - reading.mean(float(ratio)), READING_SD))


def interval_density(reading: Reading, low: Fraction, high: Fraction) -> float:
    """Return the density of a reading whose mean is uniform between what two ratios give."""
    least, most = sorted((reading.mean(float(low)), reading.mean(float(high))))
    if most - least < 1e-12 * most:
        return reading_density(reading, low)
    inside = _between((reading.value - most) / READING_SD, (reading.value - least) / READING_SD)
    return _or_slip(reading, inside / (most - least))


def greatest_density(reading: Reading) -> float:
    """Return a bound on the density of a reading, whatever the ratio."""
    return _or_slip(reading, _normal(0.0, READING_SD))


def _or_slip(reading: Reading, density: float) -> float:
    return (1 - READING_SLIP) * density + READING_SLIP * no_ratio_density(reading)


def _between(low: float, high: float) -> float:
    """The standard normal probability of low…high, kept accurate in either tail."""
    if low > 0:
        return (erfc(low / sqrt(2)) - erfc(high / sqrt(2))) / 2
    return (erfc(-high / sqrt(2)) - erfc(-low / sqrt(2))) / 2


# Features: of several kinds, counted, or measured.
KIND_RIGHT = 0.98  # "right with 0.98, the rest shared by the others"
SIZE_SD = {"_mm": 0.05, "_deg": 0.5}  # "the larger of 0.05 mm or 0.5° …"
SIZE_SHARE = 0.002  # "… and 0.2 %"
UNSURE_WIDER = 4.0  # "an unsure one four times as wide"
SIZE_SLIP = 0.005  # "slip 0.005 …"
SLIP_FROM, SLIP_TO = 0.5, 2.0  # "… uniform over half to twice the value"
SLIP_BEYOND = 0.001  # "beyond, a thousandth of that": no reading is impossible
WORN = 0.2  # "with 0.2 lower by a half-normal …"
WEAR_MM = 0.2  # "… of 0.2 mm"


def log_feature(seen: ReadFeature, value: Value, hand: int) -> float:
    """Return the log likelihood (of a size: density) of what was seen where `value` is true."""
    return seen.times * log(_law(seen, value, hand))


def _law(seen: ReadFeature, value: Value, hand: int) -> float:
    if seen.feature in KINDS:
        others = len(KINDS[seen.feature]) - 1
        return KIND_RIGHT if seen.value == value else (1 - KIND_RIGHT) / others
    assert not isinstance(seen.value, str)
    assert not isinstance(value, str)
    if seen.feature in COUNTED:
        q = Q_UNSURE if seen.unsure else Q_OF_HAND[hand]
        return count_law(abs(int(seen.value) - int(value)), q)
    return size_density(seen.feature, seen.value, value, unsure=seen.unsure)


def size_sd(feature: str, value: float, *, unsure: bool = False) -> float:
    """Return the standard deviation of a measurement, in the unit of the feature."""
    least = next(sd for end, sd in SIZE_SD.items() if feature.endswith(end))
    return max(least, SIZE_SHARE * value) * (UNSURE_WIDER if unsure else 1.0)


def size_density(feature: str, seen: float, value: float, *, unsure: bool = False) -> float:
    """Return the density of a measurement where the size is `value`, as new.

    Of an outside diameter wear is in it: with 0.2 the wheel is worn or turned down by |N(0, 0.2)|.
    The slip is uniform over half to twice the value; beyond, a thousandth of that, so that no
    reading is impossible.
    """
    sd = size_sd(feature, value, unsure=unsure)
    off = seen - value
    density = _normal(off, sd)
    if feature == OUTSIDE:
        density = (1 - WORN) * density + WORN * worn_density(off, sd)
    slip = 1 / ((SLIP_TO - SLIP_FROM) * value)
    if not SLIP_FROM * value <= seen <= SLIP_TO * value:
        slip *= SLIP_BEYOND
    return (1 - SIZE_SLIP) * density + SIZE_SLIP * slip


def worn_density(off: float, sd: float) -> float:
    """Return the density of reading − value where a half-normal of WEAR_MM was worn off.

    −|N(0, τ)| + N(0, σ) has the closed form 2/s·φ(d/s)·Φ(−τ·d/(σ·s)) with s = √(σ² + τ²) (a skew
    normal; Azzalini, Scandinavian Journal of Statistics 12, 1985, from memory).
    """
    both = sqrt(sd * sd + WEAR_MM * WEAR_MM)
    return 2 * _normal(off, both) * erfc(WEAR_MM * off / (sd * both) / sqrt(2)) / 2


def _normal(off: float, sd: float) -> float:
    return exp(-off * off / (2 * sd * sd)) / (sd * sqrt(2 * pi))


# Marks.
RIGHT_MARK = 0.95  # "0.95·…": the mark is that of the type
READ_RIGHT = 0.92  # "0.92^(n−e)": a character is read as it is
READ_WRONG = 0.08 / 36  # "(0.08/36)^e": a character is wrong, missing or added
ANY_MARK = 0.05  # "0.05·36^−n": any other mark
CHARACTERS = 36  # "36^−n": each letter and digit alike

_LOG_CHARACTER = log(CHARACTERS)


def legible(reading: str) -> int:
    """Return how many characters of a reading could be read."""
    return sum(c not in (UNREAD, LOST) for c in reading)


def log_unknown_mark(reading: str) -> float:
    """Return the log likelihood of a reading where no mark is known: 36^−n."""
    return -legible(reading) * _LOG_CHARACTER


def log_mark(reading: str, marks: Iterable[str] | None) -> float:
    """Return the log likelihood of a reading on a piece with these known marks (None: unknown).

    0.95·0.92^(n−e)·(0.08/36)^e + 0.05·36^−n with e the fewest edits to the nearest of the marks,
    at most n. A mark without a letter or digit is as if it were not there.
    """
    keys = [key for key in map(mark_key, marks or ()) if key]
    if not keys:
        return log_unknown_mark(reading)
    n = legible(reading)
    e = min(n, *(edits(reading, key) for key in keys))
    right = RIGHT_MARK * READ_RIGHT ** (n - e) * READ_WRONG**e
    return log(right + ANY_MARK * float(CHARACTERS) ** -n)


@lru_cache(maxsize=100_000)
def edits(reading: str, mark: str) -> int:
    """Return the fewest edits that make a reading fit a mark, both as `mark_key` gives them.

    An edit: a character of the reading is wrong, too many, or missing. `?` fits any one character
    and `*` any run of them, an empty one too.
    """
    if UNREAD not in reading and LOST not in reading:
        from rapidfuzz.distance import Levenshtein

        return int(Levenshtein.distance(reading, mark))
    # row[j]: the fewest edits that make what was gone through of the reading fit mark[:j].
    row = list(range(len(mark) + 1))
    for c in reading:
        if c == LOST:
            for j in range(1, len(row)):
                row[j] = min(row[j], row[j - 1])
            continue
        following = [row[0] + 1]
        for j, other in enumerate(mark, 1):
            same = row[j - 1] + (c not in (UNREAD, other))
            following.append(min(same, row[j] + 1, following[-1] + 1))
        row = following
    return row[-1]
