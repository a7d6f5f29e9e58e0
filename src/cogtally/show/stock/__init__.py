"""Items of the stock on the screen and for machines: lists, sets made of them, recheck.

It knows the words and the tables. What is there is left to the shelf.
"""

from cogtally.show.stock.json import (
    arrivals_json as arrivals_json,
    found_json as found_json,
    item_document as item_document,
    items_csv as items_csv,
    items_json as items_json,
    recheck_json as recheck_json,
    sold_json as sold_json,
    wanted_json as wanted_json,
    wants_json as wants_json,
)
from cogtally.show.stock.kits import (
    Aside as Aside,
    kits_json as kits_json,
    show_kits as show_kits,
    show_noted as show_noted,
    show_wants as show_wants,
)
from cogtally.show.stock.screen import (
    say_wanted as say_wanted,
    show_added as show_added,
    show_arrivals as show_arrivals,
    show_changed as show_changed,
    show_found as show_found,
    show_item as show_item,
    show_list as show_list,
    show_recheck as show_recheck,
    show_removed as show_removed,
    show_returned as show_returned,
    show_sold as show_sold,
    span_text as span_text,
    undo_text as undo_text,
)
