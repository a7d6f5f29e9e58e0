"""`cogtally field`: the page for a telephone, from a catalog.

What stands on the page and how it is written is left to the field, what is wanted to the shelf.
"""

from __future__ import annotations

from cogtally.catalog.model import Catalog
from cogtally.cli import options
from cogtally.cli.known import asked_catalog
from cogtally.cli.options import flag, option
from cogtally.cli.output import now_written
from cogtally.show import screen


def field(
    out: str | None = option(
        "FILE.html|FOLDER/", "One file with everything inside, or a folder for an https host."
    ),
    family: list[str] | None = option("FAMILY", "Only this family; may be given again. Else all."),
    wanted: bool = flag(
        "--wanted", "Put in what the stock lacks for complete sets, and what you noted."
    ),
    force: bool = flag("--force", "Write over a page that is there already."),
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
) -> None:
    """Make the page for a telephone.

    It names loose pieces from counts typed with a thumb, taps teeth with you, follows a family's
    key, and keeps a bag of what you found, all without a network. Android runs the file from the
    telephone's storage; an iPhone needs the folder on an https host.
    """
    from datetime import UTC, datetime

    from cogtally.field import Said, asked_place, tables_of, write_page
    from cogtally.shelf.session import digest_of

    place, is_folder = asked_place(out, force=force)
    wishes = None
    if wanted:
        from cogtally.cli.known import asked_stock
        from cogtally.field.wishes import wishes_of
        from cogtally.shelf.stock import naming_of

        book = asked_stock(catalog, demo)
        wishes = wishes_of(book, _only(naming_of(book).catalog, family)[0])
    known = asked_catalog(catalog, demo)
    digest = digest_of(known)
    known, only = _only(known, family)
    with screen.progress("Working out the keys"):
        tables = tables_of(
            known,
            digest,
            datetime.now(UTC),
            said=Said(screen.CAUTION, screen.CAUTIONS, screen.DEMO_CAUTION),
            only=only,
            wishes=wishes,
        )
    write_page(tables, place, is_folder=is_folder)
    now_written(f"{place} is written")
    console = screen.console_for()
    what = "a folder to be put on an https host" if is_folder else "a page"
    many = screen.count_of(len(known.families), "family", "families")
    said = f"Wrote {what}, {many}: {screen.plain(str(place))}"
    console.print(said, soft_wrap=True, highlight=False)
    for line in screen.caution_lines(console.width, known.demo):
        console.print(line)


def _only(catalog: Catalog, named: list[str] | None) -> tuple[Catalog, tuple[str, ...]]:
    """The catalog with the named families alone, and their ids; all of it where none is named."""
    if not named:
        return catalog, ()
    from dataclasses import replace

    from cogtally.catalog.find import find_family

    found = {one.id: one for one in (find_family(catalog, name) for name in named)}
    return replace(catalog, families=tuple(found.values()), origin=None), tuple(found)
