"""What the owner of a book looks for: what the stock lacks for complete sets, and what was noted.

Which sets are nearly complete is left to the shelf, how a wish is shown to the page.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cogtally.catalog.model import Catalog
from cogtally.field.tables import Wish
from cogtally.shelf.kits import COUNT, make_kits, parts_of
from cogtally.shelf.stock import read_items, read_wants

#: Why a piece is on the list that its owner put there.
NOTED = "noted with 'stock want'"


def wishes_of(book: Path, catalog: Catalog) -> tuple[Wish, ...]:
    """Return what is looked for of a catalog by the stock of the book at `book`.

    First what its owner noted, then what else is lacking for sets that are nearly complete.
    """
    wants = read_wants(book, catalog)
    noted = [
        Wish(want.family, want.set, want.piece, want.type, NOTED, want.up_to, want.currency)
        for want in wants
        if want.type is not None
    ]
    known = {(wish.family, wish.set, wish.piece) for wish in noted}
    parts = parts_of(read_items(book), catalog)
    # What is lacking does not hang on prices, which may be in several currencies.
    made = make_kits(catalog.families, tuple(replace(p, price=None) for p in parts), COUNT)
    lacking = [
        Wish(
            near.family,
            near.set,
            piece,
            teeth,
            f"{len(near.parts)} of {len(near.parts) + len(near.missing)} pieces are in the stock",
        )
        for near in made.near
        for piece, teeth in near.missing
        if (near.family, near.set, piece) not in known
    ]
    return (*noted, *lacking)
