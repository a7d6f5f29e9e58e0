"""`cogtally catalog show | list | find | apart`: look into the catalog.

What is there is left to the catalog, its look to `show`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from cogtally.catalog.model import Catalog
from cogtally.cli import options
from cogtally.cli.known import asked_catalog, asked_named, asked_place, empty_catalog
from cogtally.cli.options import argument, option
from cogtally.cli.report import asked_picture
from cogtally.gears.errors import UserError
from cogtally.show.screen import show_or_json
from cogtally.store import looks_like_book

if TYPE_CHECKING:
    from cogtally.catalog.search import Found, Query

FOUND_NOTHING = 1
#: So many are shown; the JSON has all of them.
MOST_SHOWN = 20


def show(
    what: list[str] | None = argument(
        "FAMILY[/SET]…",
        "A family or a set of it, by id, name or alias; or several sets of one family.",
    ),
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Show a family or a set. Teeth, ratios, pieces, marks and features stand side by side.

    Of several sets of one family: what changes, what stays, and what it does to each ratio.
    """
    if not what or not all(what):
        mend = "name a family, or FAMILY/SET; 'cogtally catalog list' lists the families"
        raise UserError("FAMILY is missing", "cogtally catalog show", mend)
    known = asked_named(catalog, demo)

    from cogtally.catalog.find import find_any

    if len(what) > 1:
        _show_beside(known, what, as_json)
        return
    family, one = find_any(known, what[0])
    from cogtally.show.catalog import family_json, show_family, show_set

    show_or_json(
        as_json,
        lambda: family_json(known, family, one),
        lambda console: (
            show_family(family, known.demo, console)
            if one is None
            else show_set(family, one, known.demo, console)
        ),
    )


def _show_beside(known: Catalog, what: list[str], as_json: bool) -> None:
    """Show several sets of one family side by side; raise UserError where they are not that."""
    from cogtally.catalog.find import find_set

    found = [find_set(known, text) for text in what]
    family = found[0][0]
    for (other, one), text in zip(found, what, strict=True):
        if other.id != family.id:
            mend = f"name sets of {family.id} alone"
            raise UserError("sets of two families have no piece in common", text, mend)
        if not one.is_counted:
            raise UserError("no teeth are listed for this set", text, "leave it out")
    sets = [one for _, one in found]
    from cogtally.show.catalog import beside_json, show_beside

    show_or_json(
        as_json,
        lambda: beside_json(family, sets),
        lambda console: show_beside(family, sets, known.demo, console),
    )


def list_families(
    catalog: str | None = options.CATALOG, demo: bool = options.DEMO, as_json: bool = options.JSON
) -> None:
    """List the families of the catalog, a line each."""
    known = asked_catalog(catalog, demo)
    from cogtally.show.catalog import list_json, show_list

    show_or_json(as_json, lambda: list_json(known), lambda console: show_list(known, console))


def find(
    words: list[str] | None = argument(
        "WORDS…",
        "Part of a name, alias, mark or note, as well as you can read it, ? for a letter that "
        "nobody can read; or teeth: 28/_ or 1=14/31.",
    ),
    ratio: list[str] | None = option("GEAR=RATIO", "A printed ratio, 1=3.65, or 3.65 in any gear."),
    source: str | None = option("TEXT", "Sets that come from there."),
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Find families and sets.

    By words, teeth, printed ratios or source. Exit code 1 if there are none.
    """
    from cogtally.catalog.search import parse_query

    if not words and not ratio and not (source or "").strip():
        mend = "write a part of a name or a mark, teeth (28/_) or --ratio 1=3.65"
        raise UserError("nothing to look for was written", "cogtally catalog find", mend)
    query = parse_query(words or [], ratio or [], source or "")
    found = _found(query, catalog, demo, most=None if as_json else MOST_SHOWN)
    from cogtally.show.catalog import found_json, show_found

    show_or_json(as_json, lambda: found_json(found), lambda console: show_found(found, console))
    if not found.count:
        raise typer.Exit(FOUND_NOTHING)


def _found(query: Query, path: str | None, demo: bool, *, most: int | None) -> Found:
    from cogtally.catalog.search import find_in, find_in_book

    place = asked_place(path, demo)
    if place is None or not looks_like_book(place):
        return find_in(asked_catalog(path, demo), query, most)
    found = find_in_book(place, query, most)
    if not found.families:
        raise empty_catalog(place)
    return found


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
    from cogtally.show.catalog import apart_json, show_all_apart, show_apart

    show_or_json(
        as_json,
        lambda: apart_json(known, found),
        lambda console: (
            show_all_apart(found, known.demo, console)
            if one is None
            else show_apart(found[0], known.demo, console)
        ),
    )
