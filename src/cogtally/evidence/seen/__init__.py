"""What was seen on one box: by the names of a catalog, wheel by wheel, and as likelihoods.

`looked` makes what was typed name what a catalog has; `counted` knows what the counts come to, and
where pairs stand; `box` what counts, turn tests, marks and features weigh, for every family.
"""

from cogtally.evidence.seen.box import MARK, SeenBox, log_unknown_feature
from cogtally.evidence.seen.counted import (
    GEAR,
    IDLER,
    PAIR,
    Arrangement,
    Counted,
    Lacking,
    counted_wheels,
    kept_name,
    lacking_in,
    pair_text,
    turned_round,
    without_wheel,
)
from cogtally.evidence.seen.looked import (
    TRADE_NAMES,
    find_role,
    refuse_overdrive_turns,
    resolved,
    resolved_piece,
)

__all__ = [
    "GEAR",
    "IDLER",
    "MARK",
    "PAIR",
    "TRADE_NAMES",
    "Arrangement",
    "Counted",
    "Lacking",
    "SeenBox",
    "counted_wheels",
    "find_role",
    "kept_name",
    "lacking_in",
    "log_unknown_feature",
    "pair_text",
    "refuse_overdrive_turns",
    "resolved",
    "resolved_piece",
    "turned_round",
    "without_wheel",
]
