"""What the invented demo catalog holds, read from its files as they stand.

Whether the package finds it valid belongs to the tests of the catalog check.
"""

import tomllib
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parents[1] / "catalog"
FILES = sorted(FOLDER.glob("*.toml"))
DOCUMENTS: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in FILES
}
FAMILIES = [document["family"] for document in DOCUMENTS.values()]
SETS = [known for document in DOCUMENTS.values() for known in document["set"]]

LAYOUTS = {"layshaft", "sleeve", "two-shaft", "axle"}
RATIO_ONLY = 3

each_family = pytest.mark.parametrize("stem", DOCUMENTS)


def teeth(text: str) -> list[int | None]:
    return [None if count == "_" else int(count) for count in text.split("/")]


def pairs_of(known: dict[str, Any]) -> dict[str, list[int | None]]:
    return {pair: teeth(text) for pair, text in known.get("pairs", {}).items()}


def test_size():
    """The catalog has at least 8 families and 40 sets, one family a file named after it."""
    assert len(FAMILIES) >= 8
    assert len(SETS) >= 40
    assert [family["id"] for family in FAMILIES] == list(DOCUMENTS)


def test_every_feature():
    """Every layout, each optional table, three sets of printed ratios, and a gap are shown."""
    assert {family["layout"] for family in FAMILIES} == LAYOUTS
    for table in ("same", "paths", "pieces"):
        assert any(family.get(table) for family in FAMILIES), table
    for table in ("marks", "features", "ratios", "aliases"):
        assert any(known.get(table) for known in SETS), table
    assert sum("pairs" not in known for known in SETS) == RATIO_ONLY
    assert any(None in counts for known in SETS for counts in pairs_of(known).values())


def test_one_pair_apart():
    """Some two sets of a family differ in one pair only."""
    assert any(
        sum(a["pairs"][pair] != b["pairs"][pair] for pair in a["pairs"]) == 1
        for document in DOCUMENTS.values()
        if len(document["set"][0]["pairs"]) > 1
        for a, b in combinations((k for k in document["set"] if "pairs" in k), 2)
    )


def test_twins():
    """Three sets of one family have the same teeth throughout, and marks or features part them."""
    twins = [
        [known for known in document["set"] if known.get("pairs") == first.get("pairs")]
        for document in DOCUMENTS.values()
        for first in document["set"]
        if "pairs" in first
    ]
    three = [group for group in twins if len(group) == 3]
    assert three
    told = [[(k.get("marks"), k.get("features")) for k in group] for group in three]
    assert all(a != b for group in told for a, b in combinations(group, 2))


@each_family
def test_commonness(stem):
    """Every set says where it comes from and how common it is, between 1 and 8."""
    for known in DOCUMENTS[stem]["set"]:
        assert 1 <= known["commonness"] <= 8
        assert known["source"]
