"""`cogtally catalog apart`: which wheels tell the sets of a family apart, and a key to follow.

What there is to tell is left to the catalog, its look to `show`.
"""

from __future__ import annotations

from cogtally.cli import options
from cogtally.cli.known import asked_catalog, asked_named
from cogtally.cli.options import argument, option
from cogtally.gears.errors import UserError


def apart(
    family: str | None = argument("FAMILY", "A family by id, name or alias. Else a line for each."),
    picture: str | None = option("FILE", "Draw the key as a tree too: .svg, .png or .pdf."),
    outlines: bool = options.OUTLINES,
    force: bool = options.FORCE,
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Say which counts tell sets apart.

    The fewest that do so in a family, the fewest that show a miscount or name the set in spite of
    one, the sets that no count can part, and a key to follow at the bench: what to count first, and
    what next after each count.
    """
    if picture is not None and family is None:
        raise UserError("a key is of one family", f"--picture {picture}", "name a FAMILY")
    drawn = None
    if picture is not None or outlines:
        from cogtally.cli.report import asked_picture

        drawn = asked_picture(picture, None, force=force, outlines=outlines)
    known = asked_catalog(catalog, demo) if family is None else asked_named(catalog, demo)

    from cogtally.catalog.apart import tell_apart
    from cogtally.catalog.find import find_family

    one = find_family(known, family) if family is not None else None
    asked = known.families if one is None else (one,)
    found = [tell_apart(each, with_key=one is not None) for each in asked]
    if drawn is not None:
        from cogtally.show.catalog import key_drawing

        if found[0].key is None:
            mend = "look at marks and features instead"
            raise UserError("no count parts two of its sets", f"--picture {picture}", mend)
        drawn.write(key_drawing(found[0].key, found[0].family, known.demo), "Drew the key")
    if as_json:
        from cogtally.show.catalog import apart_json
        from cogtally.show.screen import print_json

        print_json(apart_json(known, found))
        return
    from cogtally.show.catalog import show_all_apart, show_apart
    from cogtally.show.screen import console_for

    if one is None:
        show_all_apart(found, known.demo, console_for())
    else:
        show_apart(found[0], known.demo, console_for())
