"""The solver beside the brute-force enumeration, on random small catalogs of every layout."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from cogtally.catalog.files.reading import load_catalog
from cogtally.catalog.model import Catalog
from cogtally.evidence.reading import identify
from cogtally.gears.notation import parse_seen
from cogtally.show.box.json import answer_json
from reference.boxes import random_box
from reference.enumeration import Reference
from reference.worlds import toml_text, world

CLOSE = 1e-9
SMALLEST_SHOWN = 1e-6
BOXES_A_WORLD = 3


def catalog_of(docs: list[dict[str, Any]], folder: Path) -> Catalog:
    """Read a random catalog as a person would hand it over: from TOML files."""
    for doc in docs:
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    return load_catalog(folder)


def shares(rows: list[dict[str, Any]], *keys: str) -> dict[tuple[Any, ...], float]:
    found: dict[tuple[Any, ...], float] = {}
    for row in rows:
        key = tuple(
            tuple(row[k]) if isinstance(row.get(k), list) else (row.get(k) or None) for k in keys
        )
        found[key] = found.get(key, 0.0) + row["probability"]
    return found


def assert_alike(
    ours: dict[tuple[Any, ...], float], theirs: dict[tuple[Any, ...], float], words: list[str]
) -> None:
    """Every probability that either has is the other's too; what is not shown is below 1e-6."""
    for key in {*ours, *theirs}:
        expected = theirs.get(key, 0.0)
        if key in ours:
            assert abs(ours[key] - expected) < CLOSE, (words, key, ours[key], expected)
        else:
            assert expected < SMALLEST_SHOWN + CLOSE, (words, key, expected)


def compare(seed: int, folder: Path) -> None:
    docs = world(seed)
    catalog, reference = catalog_of(docs, folder), Reference(docs)
    for number in range(BOXES_A_WORLD):
        words = random_box(docs, seed * 100 + number)["words"]
        if not words:
            continue
        ours = answer_json(identify(catalog, parse_seen(words)))
        theirs = reference.identify(words)
        assert_alike(
            shares(ours["answers"], "kind", "family", "sets"),
            shares(theirs["answers"], "kind", "family", "sets"),
            words,
        )
        assert_alike(
            shares(ours["so_far"], "family", "sets"),
            shares(theirs["so_far"], "family", "sets"),
            words,
        )
        leading = {row["family"] for row in ours["pieces"]}
        of_leading = [row for row in theirs["pieces"] if row["family"] in leading]
        assert_alike(
            shares(ours["pieces"], "family", "piece", "type", "sets"),
            shares(of_leading, "family", "piece", "type", "sets"),
            words,
        )
        assert abs(ours["hands"]["steady"] - theirs["hands"]["steady"]) < CLOSE


@pytest.mark.parametrize("seed", range(32))
def test_every_probability_agrees(seed: int, tmp_path: Path) -> None:
    """Answers, so-far groups, pieces and hands of `identify --json` agree with the page to 1e-9."""
    compare(seed, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(1000, 1300))
def test_every_probability_agrees_at_length(seed: int, tmp_path: Path) -> None:
    """The same on 300 more catalogs."""
    compare(seed, tmp_path)
