"""What changes a catalog: import, export, keep, edit, and sets made of counts, looks and ratios.

Leaves the tables of the book to `book`, the log and undo to `store`.
"""

from cogtally.catalog.changes.imports import Plan, export_catalog, import_into, named
from cogtally.catalog.changes.keep import (
    Editing,
    Kept,
    decoded,
    from_edited,
    keep_family,
    keep_set,
    new_set_name,
    no_family,
    read_text,
    to_edit,
)
from cogtally.catalog.changes.made import (
    CountedPairs,
    box_pairs,
    check_family,
    picked,
    set_of,
    written_features,
    written_marks,
    written_pairs,
)

__all__ = [
    "CountedPairs",
    "Editing",
    "Kept",
    "Plan",
    "box_pairs",
    "check_family",
    "decoded",
    "export_catalog",
    "from_edited",
    "import_into",
    "keep_family",
    "keep_set",
    "named",
    "new_set_name",
    "no_family",
    "picked",
    "read_text",
    "set_of",
    "to_edit",
    "written_features",
    "written_marks",
    "written_pairs",
]
