"""Families and sets for machines: the JSON of `catalog show` and `catalog list`.

Keys are added, never changed, within a format number. All that is said is left to the catalog.
"""

from __future__ import annotations

from typing import Any

from cogtally.catalog.model import Catalog, Family, PieceType, RatioSet, gear_ratios

FORMAT = 1


def list_json(catalog: Catalog) -> dict[str, Any]:
    """Return the families of a catalog as plain values."""
    return {
        **head_json(catalog),
        "families": [
            {
                "id": family.id,
                "name": family.name,
                "aliases": list(family.aliases),
                "layout": family.layout,
                "sets": len(family.sets),
            }
            for family in catalog.families
        ],
    }


def family_json(catalog: Catalog, family: Family, one: RatioSet | None = None) -> dict[str, Any]:
    """Return a family with all its sets, or with one alone, as plain values."""
    sets = family.sets if one is None else (one,)
    return {
        **head_json(catalog),
        "family": {
            "id": family.id,
            "name": family.name,
            "aliases": list(family.aliases),
            "layout": family.layout,
            "direct": family.direct,
            "centre_distance_mm": family.centre_distance_mm,
            "note": family.note,
            "gears": list(family.train.gears),
        },
        "sets": [_set(family, known) for known in sets],
        "pieces": [
            {
                "piece": piece.name,
                "wheels": list(piece.wheels),
                "types": [
                    _type(family, kind)
                    for kind in family.types[piece.name]
                    if one is None or one in _carriers(family, kind)
                ],
            }
            for piece in family.pieces
        ],
    }


def head_json(catalog: Catalog) -> dict[str, Any]:
    """Return what every document of a catalog begins with."""
    return {
        "format": FORMAT,
        "catalog": {
            "name": catalog.name,
            "families": len(catalog.by_id),
            "sets": catalog.set_count,
            "demo": catalog.demo,
        },
    }


def _set(family: Family, known: RatioSet) -> dict[str, Any]:
    ratios = gear_ratios(family, known) if known.is_counted else {}
    return {
        "id": known.id,
        "name": known.name,
        "aliases": list(known.aliases),
        "commonness": known.commonness,
        "source": known.source,
        "pairs": {pair: list(teeth) for pair, teeth in known.pairs.items()},
        "gears": [
            {
                "gear": gear,
                "ratio": None if (ratio := ratios.get(gear)) is None else str(ratio),
                "decimal": None if ratio is None else float(ratio),
                "printed": known.ratios.get(gear),
            }
            for gear in dict.fromkeys([*ratios, *known.ratios])
        ],
        "marks": {piece: list(marks) for piece, marks in known.marks.items()},
        "features": {owner: dict(given) for owner, given in known.features.items()},
    }


def _type(family: Family, kind: PieceType) -> dict[str, Any]:
    return {
        "teeth": list(kind.teeth),
        "sets": [known.id for known in _carriers(family, kind)],
        "marks": None if kind.marks is None else list(kind.marks),
        "features": [
            {"of": owner, "feature": feature, "value": value}
            for owner, feature, value in kind.features
        ],
    }


def _carriers(family: Family, kind: PieceType) -> list[RatioSet]:
    return [family.counted_sets[place] for place in kind.carriers]
