"""Items of the stock on the screen and for machines: lists, sets made of them, recheck.

It knows the words and the tables. What is there is left to the shelf.
"""

from cogtally.show.stock.json import (
    arrivals_json,
    found_json,
    item_document,
    items_csv,
    items_json,
    recheck_json,
    sold_json,
    wanted_json,
    wants_json,
)
from cogtally.show.stock.kits import Aside, kits_json, show_kits, show_noted, show_wants
from cogtally.show.stock.screen import (
    say_wanted,
    show_added,
    show_arrivals,
    show_changed,
    show_found,
    show_item,
    show_list,
    show_recheck,
    show_removed,
    show_returned,
    show_sold,
    span_text,
    undo_text,
)

__all__ = [
    "Aside",
    "arrivals_json",
    "found_json",
    "item_document",
    "items_csv",
    "items_json",
    "kits_json",
    "recheck_json",
    "say_wanted",
    "show_added",
    "show_arrivals",
    "show_changed",
    "show_found",
    "show_item",
    "show_kits",
    "show_list",
    "show_noted",
    "show_recheck",
    "show_removed",
    "show_returned",
    "show_sold",
    "show_wants",
    "sold_json",
    "span_text",
    "undo_text",
    "wanted_json",
    "wants_json",
]
