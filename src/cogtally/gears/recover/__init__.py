"""Printed ratios to the teeth that can give them, what that proves, and what to count next.

Leaves to the catalog how a chosen filling is kept as a set.
"""

from cogtally.gears.recover.problem import (
    OF_ONE_PAIR,
    SPREADS,
    Problem,
    Span,
    parse_sought,
    parse_span,
    parse_whole,
    pose,
)
from cogtally.gears.recover.rank import (
    COPIES,
    LIKELIEST,
    Advice,
    Beside,
    Recovery,
    Solution,
    Twins,
    beside,
    recover,
)

__all__ = [
    "COPIES",
    "LIKELIEST",
    "OF_ONE_PAIR",
    "SPREADS",
    "Advice",
    "Beside",
    "Problem",
    "Recovery",
    "Solution",
    "Span",
    "Twins",
    "beside",
    "parse_sought",
    "parse_span",
    "parse_whole",
    "pose",
    "recover",
]
