"""`cogtally ratios` and `cogtally turning`: what counts alone say of ratios, and of what turns.

The arithmetic is left to `gears.ratios` and `gears.turning`.
"""

from collections.abc import Sequence

from cogtally.cli import options
from cogtally.cli.options import option
from cogtally.cli.report import asked_picture
from cogtally.evidence.laws import likeliest_teeth
from cogtally.gears import notation
from cogtally.gears.errors import UserError
from cogtally.gears.ratios import RatioTable, parse_axle, parse_overdrive, ratio_table
from cogtally.gears.trains import Epicyclic
from cogtally.show.screen import say_notes, show_or_json

#: Without a catalog a wheel may have any number of teeth that can be written.
ANY_TEETH = range(notation.FEWEST_TEETH, notation.MOST_TEETH + 1)


def asked_counts(words: Sequence[str] | None, command: str) -> notation.Seen:
    """Return what was counted, as typed behind `command`; raise UserError where nothing was."""
    if not words:
        mend = "write what you counted, for example input=17/28 1=14/31"
        raise UserError("nothing counted was written", command, mend)
    found = notation.parse_seen(words)
    notation.refuse_other_pairs(found)
    return found


def table_of(
    seen: notation.Seen,
    layout: str | None,
    direct: str | None,
    path: Sequence[str] | None,
    *,
    axle: notation.Word | None = None,
    overdrive: Epicyclic | None = None,
) -> RatioTable:
    """Return the ratios of what was counted, with `--layout`, `--direct` and `--path` as typed.

    Raises UserError as `ratios` does.
    """
    return ratio_table(
        seen,
        lambda counts: likeliest_teeth(counts, ANY_TEETH),
        layout=layout,
        direct=None if direct is None else notation.parse_name(direct, "--direct"),
        paths=[notation.parse_path(text, "--path") for text in path or ()],
        axle=axle,
        overdrive=overdrive,
    )


def ratios(
    seen: list[str] | None = options.COUNTED,
    layout: str | None = options.LAYOUT,
    direct: str | None = options.DIRECT,
    axle: str | None = option("PINION/CROWN", "The axle behind the box, 9/41: overall ratios."),
    overdrive: str | None = option("SUN/ANNULUS", "An overdrive behind the box, 24/84."),
    path: list[str] | None = options.PATH,
    picture: str | None = options.PICTURE,
    gear: str | None = options.GEAR,
    outlines: bool = options.OUTLINES,
    force: bool = options.FORCE,
    as_json: bool = options.JSON,
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
    from cogtally.show.ratios import notes, ratios_json, show_ratios

    show_or_json(as_json, lambda: ratios_json(table), lambda console: show_ratios(table, console))
    say_notes(notes(table, read))


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
    from cogtally.gears import turning as turned

    read = asked_counts(seen, "cogtally turning")
    drawn = asked_picture(picture, gear, force=force, outlines=outlines)
    table = table_of(read, layout, direct, path)
    box = turned.turning(table, [notation.parse_name(gear, "--sliding") for gear in sliding or ()])
    heard = None
    if noise:
        heard = turned.noise(box, [notation.parse_name(gear, "--noise") for gear in noise])
    if drawn is not None:
        from cogtally.show.train import table_subject

        drawn.draw(lambda gear: table_subject(table, gear=gear, sliding=box.joints.sliding))
    from cogtally.show.turning import notes, show_turning, turning_json

    show_or_json(
        as_json, lambda: turning_json(box, heard), lambda console: show_turning(box, heard, console)
    )
    say_notes(notes(box, [word.text for word in read.words if word.turn is not None]))
