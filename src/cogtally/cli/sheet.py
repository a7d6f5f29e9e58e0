"""`cogtally sheet`: a page to fill in at the bench.

What it asks for and how it looks is left to `show`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.cli.known import asked_catalog
from cogtally.cli.options import (
    CatalogOption,
    DemoOption,
    ForceOption,
    JsonOption,
    OutlinesOption,
)
from cogtally.gears.errors import UserError
from cogtally.gears.recover import parse_whole

PAPERS = ("a4", "letter")


def sheet(
    family: Annotated[
        str | None,
        typer.Argument(metavar="FAMILY", show_default=False, help="A family by id, name or alias."),
    ] = None,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", help="Where to write it: .pdf, .svg or .png."),
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="a4 or letter.")] = "a4",
    blank: Annotated[
        str | None,
        typer.Option(
            "--blank",
            metavar="LAYOUT",
            help="A sheet of no family: layshaft, two-shaft, sleeve, axle or overdrive.",
        ),
    ] = None,
    gears: Annotated[
        str | None,
        typer.Option("--gears", metavar="NUMBER", help="With --blank: how many forward gears."),
    ] = None,
    catalog: CatalogOption = None,
    demo: DemoOption = False,
    force: ForceOption = False,
    outlines: OutlinesOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make a page to fill in with oily hands.

    The train drawn, boxes at each wheel for a count and a recount, the order to count in as ringed
    numbers, turn tests and marks, the key of the family, and a strip to write in and to type from.
    """
    from cogtally.cli.report import write_picture
    from cogtally.show.drawing import PDF, PICTURES, asked_file

    if out is None:
        raise UserError("--out is missing", "cogtally sheet", "write --out FILE.pdf")
    path = asked_file(out, "--out", (PDF, *(e for e in PICTURES if e != PDF)), force=force)
    size = paper.lower()
    if size not in PAPERS:
        raise UserError("there is no such paper", f"--paper {paper}", f"use {' or '.join(PAPERS)}")
    if (family is None) == (blank is None):
        raise UserError(
            "name a family or a blank, one of the two",
            "cogtally sheet",
            "write a FAMILY, or --blank layshaft",
        )
    from cogtally.show.sheet import blank_sheet, family_sheet, sheet_drawing, sheet_json

    if blank is not None:
        if catalog is not None or demo:
            raise UserError("a blank is of no catalog", f"--blank {blank}", "leave it out")
        number = None if gears is None else parse_whole(gears, "--gears", 5)
        asked = blank_sheet(blank, number)
    else:
        if gears is not None:
            raise UserError("--gears goes with --blank", f"--gears {gears}", "leave it out")
        from cogtally.catalog.find import find_family

        known = asked_catalog(catalog, demo)
        asked = family_sheet(find_family(known, family or ""), demo=known.demo)
    write_picture(sheet_drawing(asked, size), path, outlines=outlines)
    if as_json:
        from cogtally.show.screen import print_json

        print_json(sheet_json(asked, str(path)))
        return
    from cogtally.show.screen import CAUTION, DEMO_CAUTION, DIM, console_for, plain, wrapped

    console = console_for()
    console.print(f"Wrote a sheet, {plain(asked.title)}: {plain(str(path))}", soft_wrap=True)
    for text in ([DEMO_CAUTION] if asked.demo else []) + [CAUTION]:
        for line in wrapped(text, console.width):
            console.print(line, style=DIM)
