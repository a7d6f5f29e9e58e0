"""Every rule that a catalog has to meet, and the problems that break one.

Leaves the reading of files to `files`.
"""

from cogtally.catalog.check.ratios import Effort as Effort
from cogtally.catalog.check.rules import (
    Entangled as Entangled,
    check_between as check_between,
    check_catalog as check_catalog,
    check_draft as check_draft,
    problem_of as problem_of,
)
