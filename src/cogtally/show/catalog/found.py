"""Lists of families, and what a search of the catalog found; on the screen and as JSON.

What is found is left to the catalog.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.text import Text

from cogtally.catalog.model import Catalog
from cogtally.catalog.search import Found, Hit
from cogtally.show.catalog.family import FORMAT
from cogtally.show.screen import DEMO_CAUTION, DIM, STRONG, hung, keys_of, plain, wrapped

if TYPE_CHECKING:
    from rich.console import Console

GAP = "  "
LIST_HEAD = ("family", "layout", "sets", "name")


def show_list(catalog: Catalog, console: Console) -> None:
    """Print a line for each family; on a terminal a long name goes on below."""
    rows = [
        (plain(f.id), plain(f.layout), str(len(f.sets)), plain(f.name)) for f in catalog.families
    ]
    widths = [max(len(row[i]) for row in (LIST_HEAD, *rows)) for i in range(3)]
    for number, row in enumerate((LIST_HEAD, *rows)):
        cells = (row[0].ljust(widths[0]), row[1].ljust(widths[1]), row[2].rjust(widths[2]))
        start = GAP.join(cells) + GAP
        style = STRONG if number == 0 else ""
        room = console.width - len(start)
        if not console.is_terminal or room < len(LIST_HEAD[3]):
            console.print(Text((start + row[3]).rstrip(), style=style), soft_wrap=True)
            continue
        for line in hung(start, wrapped(row[3], room)):
            console.print(Text(line.rstrip(), style=style), soft_wrap=True)
    if catalog.demo:
        console.print(Text(DEMO_CAUTION, style=DIM), soft_wrap=True)


def show_found(found: Found, console: Console) -> None:
    """Print the families and sets that were found, the likeliest first, and by what."""
    if not found.count:
        console.print("Nothing in the catalog is like that.", soft_wrap=True)
    for hit in found.hits:
        name = _id_of(hit)
        title = hit.family.name if hit.known is None else hit.known.name
        head = f"{name}{GAP}{plain(title)}" if title else name
        for number, line in enumerate(wrapped(head, console.width, hanging=4)):
            text = Text(line)
            if number == 0:
                text.stylize(STRONG, 0, len(name))
            console.print(text, soft_wrap=True)
        said = (title, hit.family.id if hit.known is None else hit.known.id)
        because = plain("; ".join(b for b in hit.because if b not in said))
        for line in wrapped(because, console.width - 4) if because else []:
            console.print(Text(f"    {line}"), soft_wrap=True)
    if found.count > len(found.hits):
        more = f"… and {found.count - len(found.hits):,} more; more words find fewer."
        console.print(more, soft_wrap=True)
    if found.demo:
        console.print(Text(DEMO_CAUTION, style=DIM), soft_wrap=True)


def found_json(found: Found) -> dict[str, Any]:
    """Return what was found as plain values; `likeness` is 0 to 1."""
    return {
        "format": FORMAT,
        "catalog": keys_of(found, "name", "families", "sets", "demo"),
        "found": [
            {
                "family": hit.family.id,
                "set": None if hit.known is None else hit.known.id,
                "name": hit.family.name if hit.known is None else hit.known.name,
                "likeness": hit.likeness / 100,
                "because": list(hit.because),
            }
            for hit in found.hits
        ],
    }


def _id_of(hit: Hit) -> str:
    family = plain(hit.family.id)
    return family if hit.known is None else f"{family}/{plain(hit.known.id)}"
