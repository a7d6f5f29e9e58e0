"""Every rule that a catalog has to meet, and the problems that break one.

Leaves the reading of files to `files`.
"""

from cogtally.catalog.check.ratios import Effort
from cogtally.catalog.check.rules import (
    Entangled,
    check_between,
    check_catalog,
    check_draft,
    problem_of,
)

__all__ = ["Effort", "Entangled", "check_between", "check_catalog", "check_draft", "problem_of"]
