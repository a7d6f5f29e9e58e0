"""`cogtally turning`: what turns, how fast and under which load, and what a noise points at.

What the words come to is left to `counted`, the arithmetic to `gears.turning`.
"""

from __future__ import annotations

from cogtally.cli import options
from cogtally.cli.options import option
from cogtally.cli.ratios import asked_counts, table_of
from cogtally.cli.report import asked_picture
from cogtally.gears.notation import parse_name
from cogtally.gears.turning import turning as what_turns
from cogtally.show.screen import say_notes, show_or_json


def turning(
    seen: list[str] | None = options.COUNTED,
    layout: str | None = options.LAYOUT,
    direct: str | None = options.DIRECT,
    path: list[str] | None = options.PATH,
    sliding: list[str] | None = option(
        "GEAR",
        "A gear whose driven wheel slides into mesh, in its own gear only. May be given again.",
    ),
    noise: list[str] | None = option(
        "GEAR",
        "Where a noise is heard, neutral or a gear; give it again for each. Names what is at work "
        "in exactly these.",
    ),
    picture: str | None = options.PICTURE,
    gear: str | None = options.GEAR,
    outlines: bool = options.OUTLINES,
    force: bool = options.FORCE,
    as_json: bool = options.JSON,
) -> None:
    """Show what turns in a box.

    From counts alone: the speed of every piece as a share of the input's, the turn to expect out
    for one turn in, the pairs under load in each gear, and how fast each free gear slips.
    """
    read = asked_counts(seen, "cogtally turning")
    drawn = asked_picture(picture, gear, force=force, outlines=outlines)
    table = table_of(read, layout, direct, path)
    box = what_turns(table, [parse_name(gear, "--sliding") for gear in sliding or ()])
    heard = None
    if noise:
        from cogtally.gears.turning import noise as what_sounds

        heard = what_sounds(box, [parse_name(gear, "--noise") for gear in noise])
    if drawn is not None:
        from cogtally.show.train import table_subject

        drawn.draw(lambda gear: table_subject(table, gear=gear, sliding=box.joints.sliding))
    from cogtally.show.turning import notes, show_turning, turning_json

    show_or_json(
        as_json, lambda: turning_json(box, heard), lambda console: show_turning(box, heard, console)
    )
    say_notes(notes(box, [word.text for word in read.words if word.turn is not None]))
