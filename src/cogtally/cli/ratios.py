"""`cogtally ratios`: exact ratios, steps, tooth sums and hunting teeth from counts alone.

What the words come to is left to `counted`, the arithmetic to `gears.ratios`.
"""

from __future__ import annotations

from typing import Annotated

import typer

from cogtally.cli.counted import asked_counts, table_of
from cogtally.cli.options import (
    CountedArgument,
    DirectOption,
    ForceOption,
    GearOption,
    JsonOption,
    LayoutOption,
    OutlinesOption,
    PathOption,
    PictureOption,
)
from cogtally.cli.report import asked_picture
from cogtally.gears.ratios import parse_axle, parse_overdrive


def ratios(
    seen: CountedArgument = None,
    layout: LayoutOption = None,
    direct: DirectOption = None,
    axle: Annotated[
        str | None,
        typer.Option(metavar="PINION/CROWN", help="The axle behind the box, 9/41: overall ratios."),
    ] = None,
    overdrive: Annotated[
        str | None,
        typer.Option(metavar="SUN/ANNULUS", help="An overdrive behind the box, 24/84."),
    ] = None,
    path: PathOption = None,
    picture: PictureOption = None,
    gear: GearOption = None,
    outlines: OutlinesOption = False,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Work out ratios from counts alone.

    The exact ratio of each gear, the step to it from the gear below, tooth sums, and whether the
    wheels of a pair are hunting: every tooth meets every tooth of its mate.
    """
    read = asked_counts(seen, "cogtally ratios")
    drawn = asked_picture(picture, gear, force=force, outlines=outlines)
    table = table_of(
        read,
        layout,
        direct,
        path,
        axle=None if axle is None else parse_axle(axle),
        overdrive=None if overdrive is None else parse_overdrive(overdrive),
    )
    if drawn is not None:
        from cogtally.show.train import table_subject

        drawn.draw(lambda gear: table_subject(table, gear=gear))
    from cogtally.show.ratios import notes, show_ratios
    from cogtally.show.screen import console_for, note

    if as_json:
        from cogtally.show.ratios import ratios_json
        from cogtally.show.screen import print_json

        print_json(ratios_json(table))
    else:
        show_ratios(table, console_for())
    for said in notes(table, read):
        note(f"Note: {said}")
