"""Families and sets as rows of the book's tables, and back.

When rows are read and written is left to `book`. A value that a person typed as text (a pair, a
printed ratio) is kept as typed; `teeth` holds what a pair parses to.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.pair_text import written_pair

FAMILIES, SETS = "families", "sets"

#: The columns of a family and of a set, in the order in which they are read.
FAMILY_COLUMNS = (
    "id",
    "position",
    "name",
    "aliases",
    "layout",
    "direct",
    "centre_distance_mm",
    "note",
    "pieces",
    "same",
    "paths",
)
SET_COLUMNS = (
    "family",
    "id",
    "position",
    "name",
    "aliases",
    "commonness",
    "source",
    "pairs",
    "teeth",
    "ratios",
    "marks",
    "features",
)

Row = dict[str, str | int | float | None]


def family_row(family: Family, position: int) -> Row:
    """Return the row of a family, its sets left out."""
    return {
        "id": family.id,
        "position": position,
        "name": family.name,
        "aliases": _kept(family.aliases),
        "layout": family.layout,
        "direct": family.direct,
        "centre_distance_mm": family.centre_distance_mm,
        "note": family.note,
        "pieces": _kept(family.given_pieces),
        "same": _kept(family.same),
        "paths": _kept(family.paths),
    }


def set_row(family: str, known: RatioSet, position: int) -> Row:
    """Return the row of a set; its pairs are kept as somebody wrote them."""
    pairs = {
        pair: known.typed.get(pair) or written_pair(teeth) for pair, teeth in known.pairs.items()
    }
    return {
        "family": family,
        "id": known.id,
        "position": position,
        "name": known.name,
        "aliases": _kept(known.aliases),
        "commonness": known.commonness,
        "source": known.source,
        "pairs": _kept(pairs),
        "teeth": _kept(known.pairs),
        "ratios": _kept(known.ratios),
        "marks": _kept(known.marks),
        "features": _kept({owner: dict(f) for owner, f in known.features.items()}),
    }


def typed_again(row: Mapping[str, Any], known: RatioSet) -> dict[str, str]:
    """Return the pairs of a set's row as they were typed there, those whose teeth are the same."""
    teeth, pairs = _lists(row["teeth"]), _table(row["pairs"])
    return {pair: text for pair, text in pairs.items() if teeth.get(pair) == known.pairs.get(pair)}


def family_of(values: Iterable[Any], sets: tuple[RatioSet, ...]) -> Family:
    """Return the family of a row (as FAMILY_COLUMNS); ValueError or TypeError if it is none."""
    (name_id, _, name, aliases, layout, direct, distance, note, pieces, same, paths) = values
    return Family(
        id=name_id,
        layout=layout,
        name=name,
        sets=sets,
        direct=direct,
        aliases=_texts(aliases),
        centre_distance_mm=distance,
        note=note,
        given_pieces=_lists(pieces),
        same=_table(same),
        paths=_lists(paths),
    )


def set_of(values: Iterable[Any]) -> RatioSet:
    """Return the set of a row (as SET_COLUMNS); ValueError or TypeError if it is none."""
    (_, name_id, _, name, aliases, commonness, source, _, teeth, ratios, marks, features) = values
    return RatioSet(
        id=name_id,
        name=name,
        pairs=_lists(teeth),
        ratios=_table(ratios),
        commonness=commonness,
        source=source,
        aliases=_texts(aliases),
        marks=_lists(marks),
        features=_table(features),
    )


def _kept(value: Any) -> str | None:
    """Return a list or a table as JSON; None for an empty one."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) if value else None


def _texts(kept: str | None) -> tuple[str, ...]:
    return tuple(json.loads(kept)) if kept else ()


def _lists(kept: str | None) -> dict[str, tuple[Any, ...]]:
    return {name: tuple(items) for name, items in json.loads(kept).items()} if kept else {}


def _table(kept: str | None) -> dict[str, Any]:
    return dict(json.loads(kept)) if kept else {}
