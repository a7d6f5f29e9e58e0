"""`cogtally recover`: from printed ratios to the teeth that can give them.

The search is left to `gears.recover_rank`, how words are read to `gears.recover_words`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.catalog.book import partly_read
from cogtally.catalog.changes import check_family, keep_set, new_set_name, no_family, picked, set_of
from cogtally.cli.options import JsonOption
from cogtally.cli.output import now_written
from cogtally.cli.places import asked_book
from cogtally.evidence.structure import is_entangled
from cogtally.gears.errors import UserError
from cogtally.gears.printed import READINGS, ROUNDED
from cogtally.gears.recover import (
    LAYOUTS,
    LAYSHAFT,
    SPREADS,
    Problem,
    Recovery,
    parse_sought,
    parse_span,
    parse_whole,
    pose,
)
from cogtally.gears.recover import beside as the_other_way
from cogtally.gears.recover import recover as find_teeth


def recover(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="RATIO…",
            help="Printed ratios, 3.65 2.25 1.44 or 1=3.65 R=3.84; among them what was counted, "
            "input.driver=17 1=14/_.",
        ),
    ] = None,
    layout: Annotated[
        str | None, typer.Option(metavar="LAYOUT", help=f"{', '.join(LAYOUTS)}; else {LAYSHAFT}.")
    ] = None,
    direct: Annotated[
        str | None,
        typer.Option(metavar="GEAR", help="The gear that locks input to output and has no pair."),
    ] = None,
    spread: Annotated[
        str | None,
        typer.Option(metavar="0|1|2", help="Tooth sums at most so far apart; else 2."),
    ] = None,
    free_input: Annotated[
        bool,
        typer.Option(
            "--free-input", help="The input pair (sleeve box: output) has a sum of its own."
        ),
    ] = False,
    reading: Annotated[
        str | None,
        typer.Option(
            metavar="HOW", help=f"How the digits came about: {', '.join(READINGS)}; else {ROUNDED}."
        ),
    ] = None,
    drivers: Annotated[
        str | None, typer.Option(metavar="11-40", help="Teeth of the drivers.")
    ] = None,
    driven: Annotated[
        str | None, typer.Option(metavar="15-50", help="Teeth of the driven wheels.")
    ] = None,
    sums: Annotated[
        str | None,
        typer.Option("--sum", metavar="45", help="Tooth sum of the pair that sets it, or 44-46."),
    ] = None,
    planets: Annotated[
        str | None, typer.Option(metavar="N", help="Planets of an overdrive; else 3.")
    ] = None,
    pick: Annotated[
        str | None, typer.Option(metavar="N", help="The solution of the list to keep.")
    ] = None,
    keep_as: Annotated[
        str | None,
        typer.Option(
            "--keep-as",
            metavar="FAMILY/SET",
            help="Keep the picked solution as a set of your book; its source says how it was "
            "found.",
        ),
    ] = None,
    catalog: Annotated[
        str | None,
        typer.Option(
            metavar="BOOK", help="The book to keep it in. Else COGTALLY_CATALOG, else your own."
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Find the teeth behind printed ratios.

    How many fillings of teeth print as these ratios, how much that proves, the best of them, and
    what to count next to settle it.
    """
    if not words:
        raise UserError(
            "no ratio was written", "cogtally recover", "write them as printed: 3.65 2.25 1.44"
        )
    sought = parse_sought(words)
    problem = pose(
        sought.gears,
        layout=layout or LAYSHAFT,
        direct=direct,
        reading=reading or ROUNDED,
        spread=SPREADS[-1] if spread is None else parse_whole(spread, "--spread", 2),
        free_input=free_input,
        drivers=None if drivers is None else parse_span(drivers, "--drivers"),
        driven=None if driven is None else parse_span(driven, "--driven"),
        counted=sought.counted,
        sums=None if sums is None else parse_span(sums, "--sum"),
        **({} if planets is None else {"planets": parse_whole(planets, "--planets", 3)}),
    )
    keeping = _keeping(problem, pick, keep_as, catalog)
    found = find_teeth(problem)
    from cogtally.show.recover import notes, show_recovery
    from cogtally.show.screen import console_for, note

    if keeping is not None:
        keeping.keep(found, as_json)
    elif as_json:
        from cogtally.show.recover import recovery_json
        from cogtally.show.screen import print_json

        print_json(recovery_json(found, the_other_way(problem)))
    else:
        show_recovery(found, the_other_way(problem), console_for())
    for said in notes(found, sought.unsure, direct):
        note(f"Note: {said}")


def _keeping(
    problem: Problem, pick: str | None, keep_as: str | None, catalog: str | None
) -> Keeping | None:
    """Return what keeps a picked solution, None where nothing is to be kept; raise UserError."""
    if pick is None and keep_as is None:
        if catalog is not None:
            raise UserError("--catalog names the book to keep in", mend="write --keep-as too")
        return None
    if pick is None or keep_as is None:
        missing = "--pick N" if pick is None else "--keep-as FAMILY/SET"
        raise UserError(f"{missing} is missing", mend="--pick and --keep-as go together")

    return Keeping(problem, parse_whole(pick, "--pick", 1), keep_as, catalog)


class Keeping:
    """Where a solution is to be kept; the name is looked at before anything is searched for.

    Raises UserError for a family that is not in the book or of another layout, and for a set that
    is there already.
    """

    def __init__(self, problem: Problem, place: int, name: str, catalog: str | None) -> None:
        self.place = place
        self.book = asked_book(catalog, there=True)
        known = partly_read(self.book)
        family, text, self.set_id = new_set_name(known, name)
        if family is None:
            raise no_family(known, text)
        check_family(problem, family)
        self.family = family

    def keep(self, found: Recovery, as_json: bool) -> None:
        """Write the solution into the book, or nothing, and show what was written."""
        chosen = set_of(found, picked(found, self.place), self.family, self.set_id)
        kept = keep_set(
            self.book,
            self.family.id,
            chosen,
            f"recover {self.family.id}/{self.set_id}",
            entangled=is_entangled,
        )
        now_written(f"{self.family.id}/{self.set_id} is in the book")
        from cogtally.show.catalog import kept_json, show_kept
        from cogtally.show.screen import console_for, note

        if as_json:
            from cogtally.show.screen import print_json

            print_json(kept_json(kept, book=str(self.book)))
        else:
            show_kept(kept, console_for(), book=str(self.book))
        for problem in kept.warnings:
            note(f"Note: {problem.sentence}")
