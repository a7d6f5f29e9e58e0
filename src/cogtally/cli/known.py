"""Which catalog or book a command asks or changes: the one named, the demo, or the user's own.

How a catalog is read is left to `catalog.files`.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING
from zlib import crc32

from cogtally.catalog.model import Catalog, Family
from cogtally.gears.errors import UserError, shown

if TYPE_CHECKING:
    from cogtally.shelf.stock import Money, Want


PROGRAM_FOLDER, BOOK = "cogtally", "cogtally.db"
VARIABLE = "COGTALLY_CATALOG"


def asked_place(path: str | None, demo: bool) -> Path | None:
    """Return where the catalog stands that a command is to use, None for the demo.

    `path` as typed; without it COGTALLY_CATALOG counts, then the user's own book. Whether there is
    a catalog is asked of the latter alone. Raises UserError where there is none, or where both a
    path and the demo were asked for.
    """
    if demo and path:
        raise UserError(
            "--demo and --catalog name two different catalogs", mend="write one of them"
        )
    if demo:
        return None
    named = path if path is not None else os.environ.get(VARIABLE) or None
    if named is not None:
        return _as_path(named)
    place = own_book()
    if not place.exists():
        raise _no_catalog("; try the invented one with --demo")
    return place


def asked_book(path: str | None, *, there: bool = False) -> Path:
    """Return where the book is that a command is to change.

    `path` is a file as typed; without it COGTALLY_CATALOG counts, then the user's own book.
    `there`: it has to be there. Raises UserError for what can be no book, and where none is there.
    """
    named = path if path is not None else os.environ.get(VARIABLE) or None
    place = own_book() if named is None else _as_path(named)
    if place.is_dir() or place.suffix.lower() in (".toml", ".csv"):
        kind = "a folder" if place.is_dir() else f"a {place.suffix} file"
        source = VARIABLE if path is None else "--catalog"
        mend = f"name a book with --catalog BOOK, or leave {source} out for your own"
        raise UserError(f"this is {kind}, not a book", str(place), mend)
    if there and not place.exists():
        if named is None:
            raise _no_catalog()
        from cogtally.store import check_head

        check_head(place)
    return place


def _no_catalog(demo: str = "") -> UserError:
    """The error for somebody who has no catalog yet: how to begin one; `demo` where it is taken."""
    return UserError(
        "You have no catalog yet",
        mend="begin one with 'cogtally catalog import PATH' or 'cogtally catalog init', or name "
        f"one with --catalog PATH or {VARIABLE}{demo}",
    )


def own_book() -> Path:
    """Return where the user's own book stands, whether or not there is one."""
    from platformdirs import user_data_path

    return user_data_path(PROGRAM_FOLDER, appauthor=False) / BOOK


def _as_path(text: str) -> Path:
    if not text.strip():
        raise UserError("the name of the catalog is empty", mend="write --catalog PATH")
    if "\0" in text:
        raise UserError("a path cannot hold a zero character", mend="write --catalog PATH")
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise UserError("there is no such home folder", text, "write the whole path") from error


#: Reading so many sets takes so long that keeping the words of them does not matter.
MANY_SETS = 1_000
#: Catalog files of so many bytes are read while somebody waits for a key; larger ones when a
#: command that takes its time reads them anyway.
MOST_BYTES_AT_A_KEY = 500_000
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
    catalog = load_catalog(place, entangled=is_entangled)
    if not catalog.families:
        raise empty_catalog(place)
    if path is None and catalog.set_count >= MANY_SETS:
        # The words of large catalog files that were just read, where they are old.
        from cogtally.catalog import words
        from cogtally.store import looks_like_book

        if not looks_like_book(place) and are_many_bytes(place):
            kept = words_kept_at(place)
            if words.read_words_of_files(place, kept) is None:
                words.write_words_of_files(place, kept, catalog)
    return catalog


def are_many_bytes(place: Path) -> bool | None:
    """Tell whether catalog files are too large to be read while somebody waits for a key.

    None where they cannot be looked at.
    """
    from cogtally.catalog.words import files_stamp

    try:
        return files_stamp(place)[1] > MOST_BYTES_AT_A_KEY
    except (OSError, ValueError):
        return None


def words_kept_at(place: Path) -> Path:
    """Return where the words of catalog files are kept: among what may be lost at any time."""
    from platformdirs import user_cache_path

    name = place.absolute().as_posix()
    folder = user_cache_path(PROGRAM_FOLDER, appauthor=False)
    return folder / f"{place.name[:40]}-{crc32(name.encode('utf-8', 'surrogateescape')):08x}.words"


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


def is_entangled(family: Family) -> bool:
    """Tell whether a family is too entangled to compute."""
    from cogtally.evidence import structure

    return structure.is_entangled(family)


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
