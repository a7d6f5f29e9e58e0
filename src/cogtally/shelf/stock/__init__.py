"""The stock: what is for sale as typed, as named by the catalog, and as kept in the book.

It knows items, their names and labels, how they are found, and what is looked for. What sets
they make is left to `kits`, the book's transactions to the store, the look of it all to `show`.
"""

from cogtally.shelf.stock.arrivals import (
    Arrival as Arrival,
    ArrivalRows as ArrivalRows,
    Arrivals as Arrivals,
    sort_out as sort_out,
)
from cogtally.shelf.stock.book import (
    ANSWERS as ANSWERS,
    FROM_FILE as FROM_FILE,
    ITEMS as ITEMS,
    LIST as LIST,
    NOW as NOW,
    last_currency as last_currency,
    parsed as parsed,
    read_item as read_item,
    read_items as read_items,
    rows_of_files as rows_of_files,
    stock_writing as stock_writing,
)
from cogtally.shelf.stock.find import (
    Hit as Hit,
    find_items as find_items,
    parse_wanted as parse_wanted,
    pieces_for_sale as pieces_for_sale,
    stands_at as stands_at,
)
from cogtally.shelf.stock.items import (
    BOX as BOX,
    PAIR as PAIR,
    PIECE as PIECE,
    Details as Details,
    Item as Item,
    Money as Money,
    Named as Named,
    Sale as Sale,
    Share as Share,
    Thing as Thing,
    changed as changed,
    kind_of as kind_of,
    month_sums as month_sums,
    new_thing as new_thing,
    parse_money as parse_money,
    parse_number as parse_number,
    parse_quantity as parse_quantity,
    price_sums as price_sums,
    text_of as text_of,
    values_in as values_in,
    whole_text as whole_text,
)
from cogtally.shelf.stock.naming import (
    Label as Label,
    Recheck as Recheck,
    Rechecked as Rechecked,
    keep_recheck as keep_recheck,
    labels_of as labels_of,
    naming_of as naming_of,
    recheck as recheck,
    thing_of_catalog as thing_of_catalog,
)
from cogtally.shelf.stock.wants import (
    Want as Want,
    Wanted as Wanted,
    drop_want as drop_want,
    note_wants as note_wants,
    read_wants as read_wants,
    type_in as type_in,
    want_of as want_of,
    wanted_among as wanted_among,
)
