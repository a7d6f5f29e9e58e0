"""`cogtally turning`: what turns, how fast and under which load, and what a noise points at.

The arithmetic is left to `gears.turning`, which count is likeliest to the evidence.
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
from cogtally.gears.ratios import ratio_table
from cogtally.gears.turning import turning as what_turns

#: Without a catalog a wheel may have any number of teeth that can be written.
ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


def turning(
    seen: CountedArgument = None,
    layout: LayoutOption = None,
    direct: DirectOption = None,
    path: PathOption = None,
    sliding: Annotated[
        list[str] | None,
        typer.Option(
            metavar="GEAR",
            help="A gear whose driven wheel slides into mesh, in its own gear only. "
            "May be given again.",
        ),
    ] = None,
    noise: Annotated[
        list[str] | None,
        typer.Option(
            metavar="GEAR",
            help="Where a noise is heard, neutral or a gear; give it again for each. "
            "Names what is at work in exactly these.",
        ),
    ] = None,
    picture: PictureOption = None,
    gear: GearOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what turns in a box, from counts alone.

    The speed of every piece as a share of the input's, the turn to expect out for one turn in, the
    pairs under load in each gear, and how fast each free gear slips.
    """
    if not seen:
        raise UserError(
            "nothing counted was written",
            "cogtally turning",
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
    )
    box = what_turns(table, [parse_name(gear, "--sliding") for gear in sliding or ()])
    heard = None
    if noise:
        from cogtally.gears.turning_noise import noise as what_sounds

        heard = what_sounds(box, [parse_name(gear, "--noise") for gear in noise])
    if drawn is not None:
        from cogtally.show.train_picture_of import drawing_of_table

        drawn.draw(lambda gear: drawing_of_table(table, gear=gear, sliding=box.joints.sliding))
    from cogtally.show.console import console_for
    from cogtally.show.turning import notes, show_turning

    if as_json:
        from cogtally.show.machine import print_json
        from cogtally.show.turning_json import turning_json

        print_json(turning_json(box, heard))
    else:
        show_turning(box, heard, console_for())
    for note in notes(box, [word.text for word in read.words if word.turn is not None]):
        console_for(sys.stderr).print(f"Note: {note}")
