"""What is looked for: pieces of sets, each up to a price, and which of them a piece may be.

What a set lacks is left to `kits`, what a piece is to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.catalog.find import find_any
from cogtally.catalog.model import Catalog, Family, Teeth
from cogtally.gears.errors import UserError
from cogtally.shelf.stock.book import ROOM, WANTS
from cogtally.shelf.stock.items import Money
from cogtally.store import read_records, reading, writing

if TYPE_CHECKING:
    from cogtally.evidence.loose import LooseShare
    from cogtally.shelf.stock.items import Share

#: A piece is told to be wanted where it is that from here on.
LEAST_WANTED = 0.10


@dataclass(frozen=True, slots=True)
class Want:
    """A piece of a set that is looked for, its `type` by the catalog of now.

    `type` is None where the catalog has no such piece any more; `up_to` and `currency` are empty
    where any price will do.
    """

    family: str
    set: str
    piece: str
    type: Teeth | None = None
    up_to: str = ""
    currency: str = ""

    @property
    def text(self) -> str:
        """What for and up to which price: `3-gear of alder-4/wide, up to 30 GBP`."""
        price = f", up to {self.up_to} {self.currency}" if self.up_to else ""
        return f"{self.piece} of {self.family}/{self.set}{price}"


@dataclass(frozen=True, slots=True)
class Wanted:
    """That a piece is one that is looked for, how probably, and whether it completes the set."""

    want: Want
    probability: float
    completes: bool = False


def read_wants(path: Path, catalog: Catalog) -> tuple[Want, ...]:
    """Return what is looked for by the book at `path`, by names; `catalog` is that of the book."""
    with reading(path) as book:
        rows = list(read_records(book, path, WANTS, order="family, set_id, piece"))
    found = []
    for row in rows:
        family, known, piece = row["family"], row["set_id"], row["piece"]
        teeth = type_in(catalog.by_id.get(family), known, piece)
        found.append(Want(family, known, piece, teeth, row["up_to"] or "", row["currency"] or ""))
    return tuple(found)


def want_of(catalog: Catalog, subject: str, piece: str, up_to: Money | None) -> Want:
    """Return what is looked for as the catalog calls it; raise UserError where it has no such."""
    from cogtally.catalog.looked import find_role

    family, known = find_any(catalog, subject)
    if known is None:
        mend = f"write FAMILY/SET: {', '.join(f'{family.id}/{s.id}' for s in family.sets[:3])}"
        raise UserError("a piece is wanted for a set", subject, mend)
    try:
        name = find_role(Catalog((family,)), piece)
    except UserError as error:
        raise UserError(f"{family.id} has no such piece", piece, error.mend) from error
    teeth = type_in(family, known.id, name)
    price = (up_to.amount, up_to.currency) if up_to is not None else ("", "")
    return Want(family.id, known.id, name, teeth, *price)


def note_wants(path: Path, wants: Sequence[Want]) -> int:
    """Write into the book what is looked for; return the entry of the log, 0 for no change.

    One that is looked for already has the new price.
    """
    what = wants[0].text if len(wants) == 1 else f"{len(wants)} pieces"
    with writing(path, ROOM, f"stock want: {what}") as change:
        for want in wants:
            price = {"up_to": want.up_to or None, "currency": want.currency or None}
            change.put(WANTS, {**_key(want), **price, "noted": change.at})
    return change.entry if change.changed else 0


def drop_want(path: Path, want: Want) -> int:
    """Take a want back and return the entry of the log; raise UserError where it is not noted."""
    with writing(path, ROOM, f"stock want --take-back: {want.text}") as change:
        if not change.remove(WANTS, _key(want)):
            mend = "'cogtally stock want --list' lists what is"
            raise UserError("this is not wanted", f"{want.family}/{want.set} {want.piece}", mend)
    return change.entry


def wanted_among(wants: Iterable[Want], shares: Iterable[Share | LooseShare]) -> tuple[Wanted, ...]:
    """Return what of all that is looked for a piece is, and how probably, the likeliest first."""
    some = list(shares)
    found = []
    for want in wants:
        sure = sum(
            share.probability
            for share in some
            if (share.family, share.piece) == (want.family, want.piece) and want.set in share.sets
        )
        if sure >= LEAST_WANTED:
            found.append(Wanted(want, sure))
    return tuple(sorted(found, key=lambda one: -one.probability))


def _key(want: Want) -> dict[str, str]:
    return {"family": want.family, "set_id": want.set, "piece": want.piece}


def type_in(family: Family | None, known: str, piece: str) -> Teeth | None:
    """Return the teeth of a piece in a counted set of a family; None where there is no such."""
    types = family.types.get(piece, ()) if family is not None else ()
    return next((one.teeth for one in types if known in one.sets), None)
