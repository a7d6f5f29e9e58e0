"""A family as it was written, before anything is checked: values, places, what cannot be read.

Leaves the rules of a catalog to `check`, the forms of files to `files`.
"""

from cogtally.catalog.draft.draft import (
    LARGEST_NUMBER,
    LEAST_COMMONNESS,
    MOST_COMMONNESS,
    MOST_FINDINGS,
    MOST_SETS,
    MOST_UNKNOWN,
    Draft,
    as_number,
    draft_family,
    is_id,
    is_name,
)
from cogtally.catalog.draft.places import TomlPlaces

__all__ = [
    "LARGEST_NUMBER",
    "LEAST_COMMONNESS",
    "MOST_COMMONNESS",
    "MOST_FINDINGS",
    "MOST_SETS",
    "MOST_UNKNOWN",
    "Draft",
    "TomlPlaces",
    "as_number",
    "draft_family",
    "is_id",
    "is_name",
]
