"""What to count, turn or look at next: the expected fall of the entropy of the answer, in bits.

It knows which look is worth most; how an answer is reached is left to the engine, how advice is
worded to `show`.
"""

from cogtally.evidence.advice.advice import (
    LIKELY as LIKELY,
    SMALL_WORTH as SMALL_WORTH,
    Advice as Advice,
    Worth as Worth,
    advise as advise,
    advise_briefly as advise_briefly,
    advise_shut as advise_shut,
)
from cogtally.evidence.advice.count_worth import (
    LEAST_WORTH as LEAST_WORTH,
    count_laws as count_laws,
    entropy as entropy,
    left_over as left_over,
)
from cogtally.evidence.advice.look_worth import LookWorth as LookWorth
from cogtally.evidence.advice.turn_worth import MOST_TURNS as MOST_TURNS
