"""What was typed, made to name what a catalog has: pieces and wheels; turn tests that are refused.

How it is typed is left to `gears`, what it says to the evidence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from cogtally.catalog.find import did_you_mean
from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError, shown
from cogtally.gears.looks import SeenPiece
from cogtally.gears.notation import Seen, trade_name
from cogtally.gears.trains import OVERDRIVE

#: Other names of the trade for a piece that a catalog names otherwise.
TRADE_NAMES = {
    **dict.fromkeys(("first-motion-shaft", "input", "primary-shaft"), "input-shaft"),
    **dict.fromkeys(
        ("cluster", "cluster-gear", "countershaft", "lay-gear", "lay-shaft", "layshaft"), "laygear"
    ),
}


def resolved(catalog: Catalog, seen: Seen, before: str = "--") -> Seen:
    """Return the same with every piece as the catalog calls it.

    Raises UserError, with the nearest right ones, where a mark or feature is of a piece or a wheel
    that no family has; `before` is what stands before `mark` and `feature` where they are typed.
    """
    if not seen.looks:
        return seen
    pieces = _piece_names(catalog)
    wheels = {
        name.casefold(): name
        for family in catalog.families
        if family.counted_sets
        for name in family.train.names
    }
    marks = tuple(
        replace(m, piece=_piece(pieces, m.piece, f"{before}mark {shown(m.text)}"))
        for m in seen.marks
    )
    features = []
    for f in seen.features:
        place = f"{before}feature {shown(f.text)}"
        known = _wheel(wheels, f.owner, place) if "." in f.owner else _piece(pieces, f.owner, place)
        features.append(replace(f, owner=known))
    return replace(seen, marks=marks, features=tuple(features))


def resolved_piece(catalog: Catalog, seen: SeenPiece) -> SeenPiece:
    """Return a loose piece as it is; raise UserError where a look is not of it.

    A mark that begins with the name of a piece, or a feature of a place that was not written.
    """
    pieces = _piece_names(catalog) if seen.marks else {}
    for mark in seen.marks:
        name, colon, reading = mark.text.partition(":")
        if colon and _named_piece(pieces, name.strip()):
            mend = f"write the mark alone, {shown(reading)}, and say what piece it is with --role"
            raise UserError(
                "the piece is not named in a mark on itself", f"--mark {shown(mark.text)}", mend
            )
    for feature in seen.features:
        if feature.owner and int(feature.owner) > len(seen.places):
            places = len(seen.places)
            mend = (
                f"places 1 to {places} were written" if places > 1 else "only place 1 was written"
            )
            raise UserError("there is no such place", f"--feature {shown(feature.text)}", mend)
    return seen


def find_role(catalog: Catalog, text: str) -> str:
    """Return the piece that `text` names, in the catalog's or another word of the trade.

    Upper and lower case are alike. Raises UserError with the nearest right ones.
    """
    said = "no family of the catalog has a piece called that"
    return _piece(_piece_names(catalog), text, f"--role {shown(text)}", said)


def _piece_names(catalog: Catalog) -> Mapping[str, str]:
    """Return the name of every piece of a catalog, by its small letters."""
    return {p.name.casefold(): p.name for family in catalog.families for p in family.pieces}


def _named_piece(pieces: Mapping[str, str], text: str) -> str | None:
    """Return the piece that `text` names, in the catalog's or another word of the trade.

    `third`, `3rd` and `third gear` are `3-gear`; what the catalog calls so itself goes before.
    """
    word = "-".join(text.casefold().split())
    gear, _, role = word.partition("-")
    meant = word, TRADE_NAMES.get(word, ""), f"{trade_name(gear)}-{role or 'gear'}".casefold()
    return next((pieces[name] for name in meant if name in pieces), None)


def _piece(pieces: Mapping[str, str], text: str, place: str, said: str = "") -> str:
    found = _named_piece(pieces, text)
    if found is None:
        known = list(pieces.values())
        # Every name that a piece can be asked for by, each in one spelling.
        words = [w for w, n in TRADE_NAMES.items() if n in known and w.replace("-", "") != n]
        said = said or f"no family of the catalog has a piece '{shown(text)}'"
        raise UserError(said, place, did_you_mean(text, [*known, *words]))
    return found


def _wheel(wheels: Mapping[str, str], text: str, place: str) -> str:
    found = wheels.get(text.casefold())
    if found is None:
        mend = did_you_mean(text, wheels.values())
        raise UserError(f"no family of the catalog has a wheel '{shown(text)}'", place, mend)
    return found


def refuse_overdrive_turns(catalog: Catalog, seen: Seen, family: str | None = None) -> None:
    """Raise UserError for a turn test in what is the pair of an overdrive, and a gear nowhere.

    `family`: the id of the only one that is asked about.
    """
    one = catalog.by_id.get(family) if family is not None else None
    asked = catalog.families if family is None else () if one is None else (one,)
    overdrives = {pair for f in asked if f.layout == OVERDRIVE for pair in f.train.pairs}
    if not overdrives:
        return
    gears = {gear for f in asked for gear in f.train.gears}
    for word in seen.words:
        turned = word.turn.gears if word.turn is not None else ()
        named = [gear for gear in turned if gear in overdrives and gear not in gears]
        if named:
            mend = f"count sun and annulus: {named[0]}=24/84"
            raise UserError("a turn test of an overdrive is not weighed", word.text, mend)
