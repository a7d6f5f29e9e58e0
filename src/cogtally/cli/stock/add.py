"""`cogtally stock add`: put an item on the shelf, or with --from all the items of a CSV file.

How rows are read and what items are called is left to the shelf, the look of it to `show`.
"""

from __future__ import annotations

from pathlib import Path, PurePath
from typing import TYPE_CHECKING

import typer

from cogtally.cli import options
from cogtally.cli.batch import REFUSED
from cogtally.cli.known import asked_money, asked_stock, whole_photo
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError, shown
from cogtally.show.screen import note as say_note, progress, show_or_json

if TYPE_CHECKING:
    from cogtally.shelf.session import Bench
    from cogtally.shelf.stock import Arrivals, Item, Thing


def add(
    context: typer.Context,
    seen: list[str] | None = argument(
        "SEEN",
        "A loose piece by its counts along the axis, 28 24 19 14 12; or a box, input=17/28 "
        "1=14/31.",
    ),
    pair: str | None = option("PAIR", "A pair of gears that stay together: 3=24/21."),
    session: str | None = option("ID", "A box counted in a session at the bench."),
    role: str | None = option("PIECE", "What piece it is: laygear, input-shaft, 3-gear."),
    family: str | None = option("FAMILY", "The only family to ask about."),
    mark: list[str] | None = options.ITEM_MARK,
    feature: list[str] | None = options.ITEM_FEATURE,
    place: str | None = options.PLACE,
    price: str | None = options.PRICE,
    currency: str | None = options.CURRENCY,
    condition: str | None = options.CONDITION,
    photo: str | None = options.PHOTO,
    note: str | None = options.NOTE,
    quantity: str | None = option("N", "So many alike, each with a number of its own."),
    from_file: str | None = options.FROM,
    again: bool = flag("--again", "With --from: also rows that were added before."),
    dry_run: bool = flag("--dry-run", "With --from: show what would come, write nothing."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Put an item into the stock.

    Its number is said, and what it is. It is named from your own book, and the name is kept beside
    what you typed. In a file the columns are counts, seen (of a box) or pair, and role, family,
    mark, feature, place, price, currency, condition, photo, note, quantity; what is in a column
    item goes before the note. A row that was added before, called the same and alike in all, is
    left out.
    """
    path = asked_stock(catalog, demo)
    if from_file is not None:
        from cogtally.cli.batch import refuse_beside

        refuse_beside(context, ("currency", "again", "dry_run"))
        code = _add_from(path, from_file, currency, again=again, dry_run=dry_run, as_json=as_json)
        raise typer.Exit(code)
    if again or dry_run:
        option = "--again" if again else "--dry-run"
        raise UserError(f"{option} goes with --from", mend="write --from FILE.csv too")
    from cogtally.shelf import stock as shelf
    from cogtally.show.stock import items_json, show_added, span_text, wanted_json

    thing = _thing(seen or [], pair, session, role, family, mark or [], feature or [])
    count = shelf.parse_quantity(quantity)
    details = shelf.Details(
        condition=shelf.whole_text(condition or "", "--condition"),
        place=shelf.whole_text(place or "", "--place"),
        price=asked_money(path, price, currency),
        photo=whole_photo(photo or ""),
        note=shelf.whole_text(note or "", "--note"),
    )
    naming = shelf.naming_of(path)
    thing = shelf.thing_of_catalog(naming.catalog, thing)
    named = naming.name(thing)
    wanted = shelf.wanted_among(shelf.read_wants(path, naming.catalog), named.shares)
    with shelf.stock_writing(path, "stock add") as stock:
        items = [stock.add(thing, details, named) for _ in range(count)]
        numbers = span_text(items)
        stock.say(f"stock add: {numbers}")
    there = f"item {numbers} is" if count == 1 else f"items {numbers} are"
    now_written(f"{there} in the stock")
    show_or_json(
        as_json,
        lambda: {**items_json(items, str(path)), "wanted": wanted_json(wanted)},
        lambda console: show_added(items, wanted, stock.change.entry, console),
    )


def _thing(
    seen: list[str],
    pair: str | None,
    session: str | None,
    role: str | None,
    family: str | None,
    marks: list[str],
    features: list[str],
) -> Thing:
    from cogtally.shelf.stock import PAIR, kind_of, new_thing, whole_text

    given = [what for what in (seen, pair, session) if what]
    if not given:
        mend = "write the counts of a piece (28 24 19 14 12) or of a box (input=17/28), or --pair"
        raise UserError("nothing was written of the item", "cogtally stock add", mend)
    if len(given) > 1:
        mend = "write the counts, or --pair, or --session"
        raise UserError("an item is a piece, a pair or a box", mend=mend)
    bench = _bench_of(session) if session else None
    words = [pair] if pair else list(bench.words) if bench else seen
    kind = PAIR if pair else kind_of(words)
    return new_thing(
        kind,
        words,
        role=(role or "").strip(),
        only_family=(family or "").strip(),
        marks=[*(bench.marks if bench else ()), *(whole_text(m, "--mark") for m in marks)],
        features=[
            *(bench.features if bench else ()),
            *(whole_text(f, "--feature") for f in features),
        ],
    )


def _bench_of(session: str) -> Bench:
    """Where a session at the bench stands, with something counted or turned."""
    from cogtally.cli.session import sessions_folder
    from cogtally.shelf.session import read_session

    kept = read_session(sessions_folder(), session)
    if kept.asked.demo:
        mend = "no real box is named from an invented catalog; write its counts: stock add input=…"
        raise UserError("that session asked the demo catalog", session, mend)
    if not kept.bench.words:
        raise UserError("nothing was counted in that session", session)
    return kept.bench


def _add_from(
    book: Path, from_file: str, currency: str | None, *, again: bool, dry_run: bool, as_json: bool
) -> int:
    """Put every row of a file into the stock; return the exit code.

    Rows that cannot be read are told, those added before are left out unless `again`, the rest are
    added all at once; with `dry_run` they are shown.
    """
    from cogtally.shelf.stock import FROM_FILE, stock_writing
    from cogtally.show.stock import arrivals_json, show_arrivals, span_text

    refused: list[dict[str, object]] = []
    found, file = _read(book, from_file, currency, again, refused)
    added: list[Item] = []
    entry = 0
    if found.new and not dry_run:
        with stock_writing(book, f"{FROM_FILE}{file}") as stock:
            for one in found.new:
                for _ in range(one.quantity):
                    added.append(stock.add(one.thing, one.details, one.named))
            stock.say(f"{FROM_FILE}{file}: {span_text(added)}")
            entry = stock.change.entry
        there = "item {} is" if len(added) == 1 else "items {} are"
        now_written(f"{there.format(span_text(added))} in the stock")
    show_or_json(
        as_json,
        lambda: arrivals_json(found, added, refused, str(book), dry_run=dry_run),
        lambda console: show_arrivals(found, added, len(refused), entry, console, dry_run=dry_run),
    )
    return REFUSED if refused else 0


def _read(
    book: Path, from_file: str, currency: str | None, again: bool, refused: list[dict[str, object]]
) -> tuple[Arrivals, str]:
    """The rows of a file sorted out, and what it is called; what is wrong goes to `refused`."""
    from functools import partial

    from cogtally.shelf import stock as shelf
    from cogtally.shelf.batch import ITEM, Sheet
    from cogtally.show.batch import reading

    naming = shelf.naming_of(book)
    wants = shelf.read_wants(book, naming.catalog)
    rows = shelf.ArrivalRows(naming, wants, currency, partial(asked_money, book), whole_photo)
    found = []
    file = shown(PurePath(from_file).name)

    def refuse(line: int, item: str, error: UserError) -> None:
        # What is an option for one item is a column here.
        said = str(error).removeprefix("--")
        say_note(f"cogtally: {file}:{line}: {said}")
        refused.append({"row": line, ITEM: item, "error": said})

    with progress("naming", left=True) as at, reading(from_file, at) as text:
        for row in Sheet(text, file, rows.check).rows():
            try:
                found.append(rows.read(row))
            except UserError as error:
                refuse(row.line, row.item, error)
    if again:
        return shelf.Arrivals(tuple(found)), file
    numbers = (item.number for item in shelf.read_items(book))
    done = shelf.sort_out(found, shelf.rows_of_files(book), numbers)
    for one, number in done.changed:
        sentence = f"it is item {number} in the stock, and this row says otherwise"
        mend = f"'cogtally stock edit {number}' changes it, --again adds it all the same"
        refuse(one.line, one.label, UserError(sentence, shown(one.label), mend))
    return done, file
