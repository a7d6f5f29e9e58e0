"""What was seen on one box: wheel by wheel, as a family has it, and as likelihoods.

`counted` knows what the counts come to, and how pairs stand; `box` what counts, turn tests, marks
and features weigh, for every family.
"""

from cogtally.evidence.seen.box import (
    LOG_DECIMALS as LOG_DECIMALS,
    MARK as MARK,
    SeenBox as SeenBox,
    things_seen as things_seen,
)
from cogtally.evidence.seen.counted import (
    GEAR as GEAR,
    IDLER as IDLER,
    PAIR as PAIR,
    Counted as Counted,
    Lacking as Lacking,
    arranged as arranged,
    counted_wheels as counted_wheels,
    kept_name as kept_name,
    lacking_in as lacking_in,
)
