"""One way from what was seen on a box to the posterior: stacks, plans, tables, columns, around.

It knows the sums; which laws they are of is left to the rooms beside, what is read off them in
words to `reading`, what to look at next to `advice`.
"""

from cogtally.evidence.engine.answers import Asking, Read, ask, posterior, printed_groups
from cogtally.evidence.engine.around import (
    RELATED,
    WHOLE,
    Around,
    arounds_of,
    matched_spread,
    new_teeth_of,
    teeth_of,
)
from cogtally.evidence.engine.chain import log_joints
from cogtally.evidence.engine.near import near_families
from cogtally.evidence.engine.plan import distinct
from cogtally.evidence.engine.question import HANDS, Question
from cogtally.evidence.engine.ready import Ready, ready
from cogtally.evidence.engine.stack import NONE, Array, Stack
from cogtally.evidence.engine.weigh import Part, Printed, Weighed, unknown_ratio, weigh

__all__ = [
    "HANDS",
    "NONE",
    "RELATED",
    "WHOLE",
    "Around",
    "Array",
    "Asking",
    "Part",
    "Printed",
    "Question",
    "Read",
    "Ready",
    "Stack",
    "Weighed",
    "arounds_of",
    "ask",
    "distinct",
    "log_joints",
    "matched_spread",
    "near_families",
    "new_teeth_of",
    "posterior",
    "printed_groups",
    "ready",
    "teeth_of",
    "unknown_ratio",
    "weigh",
]
