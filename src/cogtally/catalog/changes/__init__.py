"""What changes a catalog: import, export, keep, edit, and sets made of counts, looks and ratios.

Leaves the tables of the book to `book`, the log and undo to `store`.
"""

from cogtally.catalog.changes.imports import (
    Plan as Plan,
    export_catalog as export_catalog,
    import_into as import_into,
    named as named,
)
from cogtally.catalog.changes.keep import (
    Editing as Editing,
    Kept as Kept,
    decoded as decoded,
    from_edited as from_edited,
    keep_family as keep_family,
    keep_set as keep_set,
    new_set_name as new_set_name,
    no_family as no_family,
    read_text as read_text,
    to_edit as to_edit,
)
from cogtally.catalog.changes.made import (
    box_pairs as box_pairs,
    check_family as check_family,
    picked as picked,
    set_of as set_of,
    written_features as written_features,
    written_marks as written_marks,
    written_pairs as written_pairs,
)
