"""What was seen on one box: by the names of a catalog, wheel by wheel, and as likelihoods.

`looked` makes what was typed name what a catalog has; `counted` knows what the counts come to, and
where pairs stand; `box` what counts, turn tests, marks and features weigh, for every family.
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
from cogtally.evidence.seen.looked import (
    TRADE_NAMES as TRADE_NAMES,
    find_role as find_role,
    refuse_overdrive_turns as refuse_overdrive_turns,
    resolved as resolved,
    resolved_piece as resolved_piece,
)
