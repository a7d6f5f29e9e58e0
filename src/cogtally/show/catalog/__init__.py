"""How families, sets and what tells them apart are told, on screen, as JSON and as a picture.

Leaves what is known to `catalog`.
"""

from cogtally.show.catalog.apart import (
    apart_json,
    key_drawing,
    key_heading,
    key_tree,
    key_wheels,
    key_words,
    show_all_apart,
    show_apart,
)
from cogtally.show.catalog.differences import (
    differences_json,
    kept_json,
    plan_json,
    show_differences,
    show_kept,
    show_plan,
)
from cogtally.show.catalog.family import (
    beside_json,
    family_json,
    found_json,
    list_json,
    show_beside,
    show_family,
    show_found,
    show_list,
    show_set,
)

__all__ = [
    "apart_json",
    "beside_json",
    "differences_json",
    "family_json",
    "found_json",
    "kept_json",
    "key_drawing",
    "key_heading",
    "key_tree",
    "key_wheels",
    "key_words",
    "list_json",
    "plan_json",
    "show_all_apart",
    "show_apart",
    "show_beside",
    "show_differences",
    "show_family",
    "show_found",
    "show_kept",
    "show_list",
    "show_plan",
    "show_set",
]
