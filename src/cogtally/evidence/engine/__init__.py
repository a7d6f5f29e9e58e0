"""One way from what was seen on a box to the posterior: stacks, plans, tables, columns, around.

It knows the sums; which laws they are of is left to the rooms beside, what is read off them in
words to `reading`, what to look at next to `advice`.
"""

from cogtally.evidence.engine.answers import (
    Asking as Asking,
    Read as Read,
    ask as ask,
    posterior as posterior,
    printed_groups as printed_groups,
)
from cogtally.evidence.engine.around import (
    RELATED as RELATED,
    WHOLE as WHOLE,
    Around as Around,
    arounds_of as arounds_of,
    matched_spread as matched_spread,
    new_teeth_of as new_teeth_of,
    teeth_of as teeth_of,
)
from cogtally.evidence.engine.bounds import that_matter as that_matter
from cogtally.evidence.engine.chain import log_joints as log_joints
from cogtally.evidence.engine.near import near_families as near_families
from cogtally.evidence.engine.plan import distinct as distinct
from cogtally.evidence.engine.question import HANDS as HANDS, Question as Question
from cogtally.evidence.engine.ready import ready as ready
from cogtally.evidence.engine.stack import NONE as NONE, Array as Array, Stack as Stack
from cogtally.evidence.engine.weigh import (
    Part as Part,
    Printed as Printed,
    Weighed as Weighed,
    unknown_ratio as unknown_ratio,
    weigh as weigh,
)
