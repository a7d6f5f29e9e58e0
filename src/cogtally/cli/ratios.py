"""`cogtally ratios`: exact ratios, steps, tooth sums and hunting teeth from counts alone.

The arithmetic is left to `gears.ratios`, which count is likeliest to the evidence.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from cogtally.cli.options import (
    CountedArgument,
    DirectOption,
    GearOption,
    JsonOption,
    LayoutOption,
    PathOption,
    PictureOption,
)
from cogtally.evidence.likelihood import likeliest_teeth
from cogtally.gears.errors import UserError
from cogtally.gears.notation import FEWEST_TEETH, MOST_TEETH, parse_name, parse_path, parse_seen
from cogtally.gears.ratios import parse_axle, parse_overdrive, ratio_table

#: Without a catalog a wheel may have any number of teeth that can be written.
ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


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
    as_json: JsonOption = False,
) -> None:
    """Work out ratios from counts, without a catalog.

    The exact ratio of each gear, the step to it from the gear below, tooth sums, and whether the
    wheels of a pair are hunting: every tooth meets every tooth of its mate.
    """
    if not seen:
        raise UserError(
            "nothing counted was written",
            "cogtally ratios",
            "write what you counted, for example input=17/28 1=14/31",
        )
    read = parse_seen(seen)
    drawn = None
    if picture is not None or gear is not None:
        from cogtally.cli.picture import asked_picture

        drawn = asked_picture(picture, gear)
    table = ratio_table(
        read,
        lambda counts: likeliest_teeth(counts, ANY_TEETH),
        layout=layout,
        direct=None if direct is None else parse_name(direct, "--direct"),
        paths=[parse_path(text, "--path") for text in path or ()],
        axle=None if axle is None else parse_axle(axle),
        overdrive=None if overdrive is None else parse_overdrive(overdrive),
    )
    if drawn is not None:
        from cogtally.show.train_picture_of import drawing_of_table

        drawn.draw(lambda gear: drawing_of_table(table, gear=gear))
    from cogtally.show.console import console_for
    from cogtally.show.ratios import notes, show_ratios

    if as_json:
        from cogtally.show.machine import print_json
        from cogtally.show.ratios_json import ratios_json

        print_json(ratios_json(table))
    else:
        show_ratios(table, console_for())
    for note in notes(table, read):
        console_for(sys.stderr).print(f"Note: {note}")
