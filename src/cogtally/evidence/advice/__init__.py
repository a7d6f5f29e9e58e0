"""What to count, turn or look at next: the expected fall of the entropy of the answer, in bits.

It knows which look is worth most; how an answer is reached is left to the engine, how advice is
worded to `show`.
"""

from cogtally.evidence.advice.advice import (
    LIKELY,
    SMALL_WORTH,
    Advice,
    Worth,
    advise,
    advise_briefly,
    advise_shut,
)
from cogtally.evidence.advice.count_worth import LEAST_WORTH, count_laws, entropy, left_over
from cogtally.evidence.advice.look_worth import LookWorth
from cogtally.evidence.advice.turn_worth import MOST_TURNS

__all__ = [
    "LEAST_WORTH",
    "LIKELY",
    "MOST_TURNS",
    "SMALL_WORTH",
    "Advice",
    "LookWorth",
    "Worth",
    "advise",
    "advise_briefly",
    "advise_shut",
    "count_laws",
    "entropy",
    "left_over",
]
