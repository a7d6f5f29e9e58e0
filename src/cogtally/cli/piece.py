"""`cogtally piece`: what a loose piece is, from counts along its axis.

What the words mean is left to the notation, the answer to the evidence, its look to `show`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from cogtally.cli import options
from cogtally.cli.known import asked_about, asked_catalog, code_of
from cogtally.cli.options import argument, option
from cogtally.gears.errors import UserError
from cogtally.gears.looks import parse_piece, with_looks
from cogtally.show.screen import console_for, print_json

if TYPE_CHECKING:
    from cogtally.evidence.loose import LooseAnswer
    from cogtally.shelf.stock import Wanted


def piece(
    context: typer.Context,
    seen: list[str] | None = argument(
        "COUNT", "The teeth of each wheel along the axis, from either end: 28 24 19 _ 12"
    ),
    role: str | None = option(
        "PIECE",
        "What piece it is: laygear, input-shaft, 3-gear, or another of the catalog. layshaft, "
        "cluster, input and third are understood.",
    ),
    family: str | None = options.FAMILY,
    expect: str | None = option(
        "FAMILY/SET", "Say whether it is of this set. Exit code 0: yes, 1: no, 3: not settled yet."
    ),
    mark: list[str] | None = options.LOOSE_MARK,
    feature: list[str] | None = options.LOOSE_FEATURE,
    from_file: str | None = options.FROM,
    out: str | None = options.OUT,
    resume: bool = options.RESUME,
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Say what a loose piece is.

    Write the teeth of its wheels in order along the axis, from either end. A wheel not counted is
    written _, an unsure count 24u, one counted three times 24x3, wheels not looked at beyond an
    end .. (.. 19 14 12). In a file the columns are item, counts, role, family, mark and feature.
    """
    if from_file is not None or out is not None or resume:
        from cogtally.cli.batch import answer_pieces, refuse_beside

        refuse_beside(context, ("role", "family"))
        raise typer.Exit(answer_pieces(context.params))
    if not seen:
        mend = "write the counts along the axis, for example 28 24 19 _ 12"
        raise UserError("no wheel was written", mend=mend)
    read = with_looks(parse_piece(seen), mark or (), feature or ())
    known = asked_catalog(catalog, demo)

    from cogtally.catalog.looked import find_role, resolved_piece
    from cogtally.evidence.loose import identify_piece

    if mark or feature:
        read = resolved_piece(known, read)
    only, wanted = asked_about(known, family, expect)
    answer = identify_piece(
        known, read, None if role is None else find_role(known, role), family=only, expect=wanted
    )
    looked_for = _wanted(catalog, demo, answer)
    from cogtally.show.piece import piece_json, show_piece

    if looked_for:
        from cogtally.show.stock import say_wanted, wanted_json
    if as_json:
        wants = wanted_json(looked_for) if looked_for else []
        print_json({**piece_json(answer), "wanted": wants})
    else:
        console = console_for()
        if looked_for:
            say_wanted(looked_for, console)
        show_piece(answer, console)
    raise typer.Exit(code_of(answer.expectation.answer if answer.expectation else None))


def _wanted(catalog: str | None, demo: bool, answer: LooseAnswer) -> tuple[Wanted, ...]:
    """What of all that the book of the catalog looks for the piece may be."""
    if demo:
        return ()
    from cogtally.cli.known import asked_wants

    wants = asked_wants(catalog, demo, answer.catalog)
    if not wants:
        return ()
    from cogtally.cli.known import asked_place
    from cogtally.shelf.kits import completing
    from cogtally.shelf.stock import read_items, wanted_among

    found = wanted_among(wants, answer.posterior.answers())
    place = asked_place(catalog, demo)
    return completing(found, read_items(place), answer.catalog) if found and place else found
