"""`cogtally sheet`: a page to fill in at the bench.

What it asks for and how it looks is left to `show`.
"""

from cogtally.cli import options
from cogtally.cli.known import asked_catalog
from cogtally.cli.options import argument, option
from cogtally.cli.report import write_picture
from cogtally.gears.errors import UserError
from cogtally.gears.recover import parse_whole
from cogtally.show.screen import caution_lines, console_for, plain, print_json

PAPERS = ("a4", "letter")


def sheet(
    family: str | None = argument("FAMILY", "A family by id, name or alias."),
    out: str | None = option("FILE", "Where to write it: .pdf, .svg or .png."),
    paper: str = option("SIZE", "a4 or letter.", default="a4"),
    blank: str | None = option(
        "LAYOUT", "A sheet of no family: layshaft, two-shaft, sleeve, axle or overdrive."
    ),
    gears: str | None = option("NUMBER", "With --blank: how many forward gears."),
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    force: bool = options.FORCE,
    outlines: bool = options.OUTLINES,
    as_json: bool = options.JSON,
) -> None:
    """Make a page to fill in with oily hands.

    The train drawn, boxes at each wheel for a count and a recount, the order to count in as ringed
    numbers, turn tests and marks, the key of the family, and a strip to write in and to type from.
    """
    from cogtally.show.drawing import PDF, PICTURES, asked_file

    if out is None:
        raise UserError("--out is missing", "cogtally sheet", "write --out FILE.pdf")
    path = asked_file(out, "--out", (PDF, *(e for e in PICTURES if e != PDF)), force=force)
    size = paper.lower()
    if size not in PAPERS:
        raise UserError("there is no such paper", f"--paper {paper}", f"use {' or '.join(PAPERS)}")
    if (family is None) == (blank is None):
        mend = "write a FAMILY, or --blank layshaft"
        raise UserError("name a family or a blank, one of the two", "cogtally sheet", mend)
    from cogtally.show.sheet import blank_sheet, family_sheet, sheet_drawing, sheet_json

    if blank is not None:
        if catalog is not None or demo:
            raise UserError("a blank is of no catalog", f"--blank {blank}", "leave it out")
        asked = blank_sheet(blank, None if gears is None else parse_whole(gears, "--gears", 5))
    else:
        if gears is not None:
            raise UserError("--gears goes with --blank", f"--gears {gears}", "leave it out")
        from cogtally.catalog.find import find_family

        known = asked_catalog(catalog, demo)
        asked = family_sheet(find_family(known, family or ""), demo=known.demo)
    write_picture(sheet_drawing(asked, size), path, outlines=outlines)
    if as_json:
        print_json(sheet_json(asked, str(path)))
        return
    console = console_for()
    console.print(f"Wrote a sheet, {plain(asked.title)}: {plain(str(path))}", soft_wrap=True)
    for line in caution_lines(console.width, asked.demo):
        console.print(line)
