"""Rules on the pieces of a family: every wheel on one, and marks and features on what is there.

How the pairs make a gearbox is left to `trains`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cogtally.catalog.check.trains import known_wheels, misnamed
from cogtally.catalog.draft import Draft, shown
from cogtally.catalog.find import did_you_mean, nearest
from cogtally.catalog.model import Family
from cogtally.catalog.problem import Finding


def check_pieces(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the pieces of a family (of `draft`, its sets of one shape).

    And with the marks and features of its sets, which name wheels and pieces.
    """
    wheels = known_wheels(family)
    kept = family.train.canonical
    good: dict[str, tuple[str, ...]] = {}
    meant = misnamed(replace(family, same=draft.family.same))
    place: dict[str, str] = {}
    for name, named in family.given_pieces.items():
        key = f"pieces.{name}"
        if not named and (None, "pieces") not in draft.spoilt:
            sentence = f"the piece {name} has no wheel"
            yield Finding("piece-empty", sentence, "list its wheels along the axis", None, key)
        known = []
        for at, wheel in enumerate(named):
            if wheel not in wheels:
                meant.update(map(kept, nearest(wheel, wheels)))
                sentence = f"the piece {name} names '{shown(wheel)}', a wheel that no pair has"
                mend = did_you_mean(wheel, wheels)
                yield Finding("piece-unknown-wheel", sentence, mend, None, key)
            elif wheel in named[:at]:
                sentence = f"the piece {name} lists {wheel} twice"
                yield Finding("wheel-on-two-pieces", sentence, "list it once", None, key)
            elif place.setdefault(kept(wheel), name) != name:
                sentence = f"{wheel} is on two pieces, {place[kept(wheel)]} and {name}"
                mend = "a wheel is on one piece" + _second_name(family, wheel)
                yield Finding("wheel-on-two-pieces", sentence, mend, None, key)
            else:
                known.append(wheel)
        if known:
            good[name] = tuple(known)
    family = replace(family, given_pieces=good)
    # An empty piece, or a table that was not read, is where a missing wheel belongs.
    whole = not {(None, "pieces"), (None, "same")} & draft.spoilt
    if family.counted_sets and whole and all(draft.family.given_pieces.values()):
        yield from _without_piece(family, meant)
    if family.counted_sets:
        yield from _owners(draft, family)


def _second_name(family: Family, wheel: str) -> str:
    names = [n for n, k in family.train.names.items() if k == family.train.canonical(wheel)]
    return f"; {' and '.join(names)} are one wheel" if len(names) > 1 else ""


def _without_piece(family: Family, meant: set[str]) -> Iterator[Finding]:
    if not family.pieces:
        why = "spelled-out paths" if family.paths else f"the layout {family.layout}"
        sentence = f"no pieces are given, and a family with {why} has none by itself"
        mend = 'write [family.pieces] in TOML and below it every wheel: "1-gear" = ["1.driven"]'
        yield Finding("wheel-on-no-piece", sentence, mend, None, "pieces")
        return
    for wheel in family.train.wheels:
        if wheel not in family.piece_of and wheel not in meant:
            sentence = f"{wheel} is on no piece"
            mend = f'name it under [family.pieces]: "…" = ["{wheel}"]'
            yield Finding("wheel-on-no-piece", sentence, mend, None, "pieces")


def _owners(draft: Draft, family: Family) -> Iterator[Finding]:
    """Marks and features belong to pieces and wheels that the family has."""
    pieces = {*(piece.name for piece in family.pieces), *family.given_pieces}
    pieces.update(draft.family.given_pieces)
    wheels = set(known_wheels(family)) | set(family.train.names)
    order = [piece.name for piece in family.pieces]
    for number, known in enumerate(draft.family.sets):
        for piece in known.marks:
            if piece not in pieces:
                sentence = f"the family has no piece '{shown(piece)}'"
                mend = did_you_mean(piece, order)
                yield Finding("unknown-key", sentence, mend, number, f"marks.{piece}")
        for owner in known.features:
            if owner not in pieces and owner not in wheels:
                sentence = f"the family has no wheel and no piece '{shown(owner)}'"
                near = known_wheels(family) if "." in owner else order
                mend = did_you_mean(owner, near)
                yield Finding("unknown-key", sentence, mend, number, f"features.{owner}")
