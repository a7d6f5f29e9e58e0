"""What tells the sets of a family apart, for machines: the JSON of `catalog apart --json`.

Keys are added, never changed, within a format number. All that is said is left to the catalog.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from cogtally.catalog.apart import Apart, Choice, Close, Key
from cogtally.catalog.model import Catalog

FORMAT = 1


def apart_json(catalog: Catalog, families: Iterable[Apart]) -> dict[str, Any]:
    """Return what was found of each family as plain lists, texts and numbers."""
    return {
        "format": FORMAT,
        "catalog": {
            "name": catalog.name,
            "families": len(catalog.by_id),
            "sets": catalog.set_count,
            "demo": catalog.demo,
        },
        "families": [_family(found) for found in families],
    }


def _family(found: Apart) -> dict[str, Any]:
    """One family; `key` is null where none was asked for or nothing is to be parted."""
    return {
        "family": found.family.id,
        "wheels": list(found.family.train.wheels),
        "sets": list(found.sets),
        "ratio_only": list(found.ratio_only),
        "too_large": found.is_too_large,
        "choices": [_choice(found, choice) for choice in found.choices],
        "stay_together": list(found.together),
        "close": [_close(pair) for pair in found.close],
        "key": None if found.key is None else _key(found.key),
    }


def _choice(found: Apart, choice: Choice) -> dict[str, Any]:
    return {
        "differences": choice.differences,
        "wheels": list(choice.wheels),
        "instead": {
            wheel: list(others) for wheel, others in zip(choice.wheels, choice.instead, strict=True)
        },
        "at_least": choice.at_least,
        "exact": choice.is_exact,
        "falls_short_for": [list(pair.sets) for pair in found.short_of(choice.differences)],
    }


def _close(pair: Close) -> dict[str, Any]:
    return {
        "sets": list(pair.sets),
        "differ_in": list(pair.differ_in),
        "gaps": list(pair.gaps),
        "marks": [
            {"of": m.owner, "feature": m.feature or None, "values": list(m.values)}
            for m in pair.marks
        ],
    }


def _key(key: Key) -> dict[str, Any]:
    """A key as a flat list of nodes, the first one first; `teeth` null: any other count."""
    return {
        "exact": key.is_exact,
        "average": float(key.average),
        "average_ratio": str(key.average),
        "most": key.most,
        "nodes": [
            {
                "wheel": node.wheel,
                "branches": [
                    {"teeth": b.teeth, "sets": list(b.sets), "node": b.node} for b in node.branches
                ],
            }
            for node in key.nodes
        ],
    }
