"""What changes a catalog: import, export, keep, edit, and sets made of counts, looks and ratios.

Leaves the tables of the book to `book`, the log and undo to `store`.
"""

from cogtally.catalog.changes.edited import Editing, decoded, from_edited, read_text, to_edit
from cogtally.catalog.changes.export import export_catalog
from cogtally.catalog.changes.from_counts import CountedPairs, box_pairs, written_pairs
from cogtally.catalog.changes.from_looks import written_features, written_marks
from cogtally.catalog.changes.from_recovered import check_family, picked, set_of
from cogtally.catalog.changes.imports import Plan, import_into, named
from cogtally.catalog.changes.keep import Kept, keep_family, keep_set, new_set_name, no_family

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
