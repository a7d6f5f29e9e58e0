"""`cogtally recover`: from printed ratios to the teeth that can give them.

The search and how words are read is left to `gears.recover`.
"""

from collections.abc import Callable

from cogtally.catalog.book import partly_read
from cogtally.catalog.changes import check_family, keep_set, new_set_name, no_family, picked, set_of
from cogtally.cli import options
from cogtally.cli.catalog import show_kept_or_json
from cogtally.cli.known import asked_book, is_entangled
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.gears import recover as recovery
from cogtally.gears.errors import UserError
from cogtally.gears.printed import READINGS, ROUNDED
from cogtally.gears.trains import FAMILY_LAYOUTS, LAYSHAFT
from cogtally.show.screen import say_notes, show_or_json


def recover(
    words: list[str] | None = argument(
        "RATIO…",
        "Printed ratios, 3.65 2.25 1.44 or 1=3.65 R=3.84; among them what was counted, "
        "input.driver=17 1=14/_.",
    ),
    layout: str | None = option("LAYOUT", f"{', '.join(FAMILY_LAYOUTS)}; else {LAYSHAFT}."),
    direct: str | None = option("GEAR", "The gear that locks input to output and has no pair."),
    spread: str | None = option("0|1|2", "Tooth sums at most so far apart; else 2."),
    free_input: bool = flag(
        "--free-input", "The input pair (sleeve box: output) has a sum of its own."
    ),
    reading: str | None = option(
        "HOW", f"How the digits came about: {', '.join(READINGS)}; else {ROUNDED}."
    ),
    drivers: str | None = option("11-40", "Teeth of the drivers."),
    driven: str | None = option("15-50", "Teeth of the driven wheels."),
    sums: str | None = option("45", "Tooth sum of the pair that sets it, or 44-46.", "--sum"),
    planets: str | None = option("N", "Planets of an overdrive; else 3."),
    pick: str | None = option("N", "The solution of the list to keep."),
    keep_as: str | None = option(
        "FAMILY/SET",
        "Keep the picked solution as a set of your book; its source says how it was found.",
    ),
    catalog: str | None = option(
        "BOOK", "The book to keep it in. Else COGTALLY_CATALOG, else your own."
    ),
    as_json: bool = options.JSON,
) -> None:
    """Find the teeth behind printed ratios.

    How many fillings of teeth print as these ratios, how much that proves, the best of them, and
    what to count next to settle it.
    """
    if not words:
        raise UserError(
            "no ratio was written", "cogtally recover", "write them as printed: 3.65 2.25 1.44"
        )
    sought = recovery.parse_sought(words)
    problem = recovery.pose(
        sought.gears,
        layout=layout or LAYSHAFT,
        direct=direct,
        reading=reading or ROUNDED,
        spread=recovery.SPREADS[-1]
        if spread is None
        else recovery.parse_whole(spread, "--spread", 2),
        free_input=free_input,
        drivers=None if drivers is None else recovery.parse_span(drivers, "--drivers"),
        driven=None if driven is None else recovery.parse_span(driven, "--driven"),
        counted=sought.counted,
        sums=None if sums is None else recovery.parse_span(sums, "--sum"),
        **({} if planets is None else {"planets": recovery.parse_whole(planets, "--planets", 3)}),
    )
    keeping = _keeping(problem, pick, keep_as, catalog)
    found = recovery.recover(problem)
    from cogtally.show.recover import notes, recovery_json, show_recovery

    if keeping is not None:
        keeping(found, as_json)
    else:
        other = recovery.beside(problem)
        show_or_json(
            as_json,
            lambda: recovery_json(found, other),
            lambda console: show_recovery(found, other, console),
        )
    say_notes(notes(found, sought.unsure, direct))


def _keeping(
    problem: recovery.Problem, pick: str | None, keep_as: str | None, catalog: str | None
) -> Callable[[recovery.Recovery, bool], None] | None:
    """Return what keeps a picked solution, None where nothing is to be kept.

    Where it goes is looked at before anything is searched for. Raises UserError for a family that
    is not in the book or of another layout, and for a set that is there already.
    """
    if pick is None and keep_as is None:
        if catalog is not None:
            raise UserError("--catalog names the book to keep in", mend="write --keep-as too")
        return None
    if pick is None or keep_as is None:
        missing = "--pick N" if pick is None else "--keep-as FAMILY/SET"
        raise UserError(f"{missing} is missing", mend="--pick and --keep-as go together")
    place = recovery.parse_whole(pick, "--pick", 1)
    book = asked_book(catalog, there=True)
    known = partly_read(book)
    family, text, set_id = new_set_name(known, keep_as)
    if family is None:
        raise no_family(known, text)
    check_family(problem, family)
    named = f"{family.id}/{set_id}"

    def keep(found: recovery.Recovery, as_json: bool) -> None:
        chosen = set_of(found, picked(found, place), family, set_id)
        kept = keep_set(book, family.id, chosen, f"recover {named}", entangled=is_entangled)
        now_written(f"{named} is in the book")
        show_kept_or_json(kept, str(book), as_json=as_json)
        say_notes(problem.sentence for problem in kept.warnings)

    return keep
