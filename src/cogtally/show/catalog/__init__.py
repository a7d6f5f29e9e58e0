"""How families, sets and what tells them apart are told, on screen, as JSON and as a picture.

Leaves what is known to `catalog`.
"""

from cogtally.show.catalog.apart import (
    apart_json as apart_json,
    key_drawing as key_drawing,
    key_heading as key_heading,
    key_tree as key_tree,
    key_wheels as key_wheels,
    key_words as key_words,
    show_all_apart as show_all_apart,
    show_apart as show_apart,
)
from cogtally.show.catalog.differences import (
    differences_json as differences_json,
    kept_json as kept_json,
    plan_json as plan_json,
    show_differences as show_differences,
    show_kept as show_kept,
    show_plan as show_plan,
)
from cogtally.show.catalog.family import (
    beside_json as beside_json,
    family_json as family_json,
    found_json as found_json,
    list_json as list_json,
    show_beside as show_beside,
    show_family as show_family,
    show_found as show_found,
    show_list as show_list,
    show_set as show_set,
)
