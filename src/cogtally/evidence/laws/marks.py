"""The law of a mark that was read off a piece: the constants, and how far a reading is from a mark.

How a reading is written is left to `gears.looks`, which marks a type has to the catalog.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import log

from cogtally.gears.looks import LOST, UNREAD, mark_key

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
