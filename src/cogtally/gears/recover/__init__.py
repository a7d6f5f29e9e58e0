"""Printed ratios to the teeth that can give them, what that proves, and what to count next.

Leaves to the catalog how a chosen filling is kept as a set.
"""

from cogtally.gears.recover.problem import (
    OF_ONE_PAIR as OF_ONE_PAIR,
    SPREADS as SPREADS,
    Problem as Problem,
    Span as Span,
    parse_sought as parse_sought,
    parse_span as parse_span,
    parse_whole as parse_whole,
    pose as pose,
)
from cogtally.gears.recover.rank import (
    COPIES as COPIES,
    LIKELIEST as LIKELIEST,
    Advice as Advice,
    Beside as Beside,
    Recovery as Recovery,
    Solution as Solution,
    Twins as Twins,
    beside as beside,
    recover as recover,
)
