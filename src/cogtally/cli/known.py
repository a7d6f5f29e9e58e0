"""Which catalog a command asks: the one named, the demo, or the user's own book.

How a catalog is read is left to `catalog.files`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.cli.places import asked_book, asked_place
from cogtally.gears.errors import UserError, shown

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog, Family
    from cogtally.shelf.stock import Money, Want


#: Reading so many sets takes so long that keeping the words of them does not matter.
MANY_SETS = 1_000
#: Exit codes of an expectation that is not met, and of one that cannot be settled yet.
DENIED, NOT_SETTLED = 1, 3


def asked_catalog(path: str | None, demo: bool) -> Catalog:
    """Return the catalog that a command is to use.

    `path` is a file or folder as typed; without it COGTALLY_CATALOG counts, then the user's own
    book. Raises UserError where there is none, or where both a path and the demo were asked for.
    """
    from cogtally.catalog.files import demo_catalog, load_catalog

    place = asked_place(path, demo)
    if place is None:
        return demo_catalog()
    catalog = load_catalog(place, entangled=_is_entangled)
    if not catalog.families:
        raise empty_catalog(place)
    if path is None and catalog.set_count >= MANY_SETS:
        from cogtally.cli.completion import keep_words

        keep_words(place, catalog)
    return catalog


def asked_about(
    catalog: Catalog, family: str | None, expect: str | None
) -> tuple[str | None, tuple[str, str] | None]:
    """Return the id of the one family asked about, and family and set of what is expected.

    Raises UserError for what the catalog does not have, or where the two do not go together.
    """
    from cogtally.catalog.find import find_family, find_set

    only = find_family(catalog, family).id if family is not None else None
    if expect is None:
        return only, None
    of, named = find_set(catalog, expect)
    if only not in (None, of.id):
        raise UserError(
            f"--family asks about {only} alone", expect, f"leave --family out, or say {of.id}"
        )
    return only, (of.id, named.id)


def code_of(expectation: str | None) -> int:
    """Return the exit code of what was expected: `no`, `open`, or anything else."""
    return {"no": DENIED, "open": NOT_SETTLED}.get(expectation or "", 0)


def empty_catalog(place: Path) -> UserError:
    """Return the error for a catalog without a family."""
    mend = "'cogtally catalog import PATH' fills it, or try the invented one with --demo"
    return UserError("the catalog is empty", str(place), mend)


def _is_entangled(family: Family) -> bool:
    from cogtally.evidence.structure import is_entangled

    return is_entangled(family)


def asked_named(path: str | None, demo: bool) -> Catalog:
    """Return the catalog in which a command looks up families and sets by what they are called.

    Of a book those alone are read. Raises UserError as `asked_catalog` does.
    """
    place = _book(path, demo)
    if place is None:
        return asked_catalog(path, demo)
    from cogtally.catalog.book import partly_read

    found = partly_read(place)
    if not found.by_id:
        raise empty_catalog(place)
    return found


def _book(path: str | None, demo: bool) -> Path | None:
    """The book that a command is to use, or None for another catalog."""
    from cogtally.store import looks_like_book

    place = asked_place(path, demo)
    return place if place is not None and looks_like_book(place) else None


def asked_stock(catalog: str | None, demo: bool) -> Path:
    """Return the book whose stock is asked for; raise UserError for what is none."""
    if demo:
        mend = "leave --demo out: no real part is named from an invented catalog"
        raise UserError("the stock stands in your own book", "--demo", mend)
    return asked_book(catalog, there=True)


def asked_number(text: str | None, command: str) -> int:
    """Return the number of an item, as typed behind `command`; raise UserError for what is none."""
    from cogtally.shelf.stock import LIST, parse_number

    if text is None:
        raise UserError("ITEM is missing", f"cogtally stock {command}", f"write its number; {LIST}")
    return parse_number(text)


def asked_wants(catalog: str | None, demo: bool, known: Catalog) -> tuple[Want, ...]:
    """Return what is looked for by the book that is asked; nothing where no book is."""
    if demo:
        return ()
    from cogtally.shelf.stock import read_wants

    book = _book(catalog, demo)
    return read_wants(book, known) if book is not None else ()


def asked_money(
    book: Path, price: str | None, currency: str | None, option: str = "--price"
) -> Money | None:
    """Return a price in its currency, else in that of the last price; raise UserError."""
    from cogtally.shelf.stock import last_currency, parse_money

    if price is None:
        if currency is not None:
            raise UserError(f"--currency goes with {option}", mend=f"write {option} 45 too")
        return None

    if currency is None:
        parse_money(price, "XXX", option)
        currency = last_currency(book)
        if not currency:
            mend = "write --currency and its three letters; the next price is taken to be the same"
            raise UserError("no currency was written yet", f"{option} {price}", mend)
    return parse_money(price, currency, option)


def whole_photo(text: str) -> str:
    """Return the whole path of a picture; raise UserError where there is no such file."""
    if not text.strip():
        return ""
    try:
        path = Path(text).expanduser().absolute()
        there = path.is_file()
    except (OSError, ValueError, RuntimeError):
        there = False
    if not there:
        mend = "name a file that is there, a picture of the item"
        raise UserError("there is no such file", f"--photo {shown(text)}", mend)
    return str(path)
