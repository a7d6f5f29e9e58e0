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
LARGEST_SPREAD = 2
CLEARANCE = 4
RATIO_ONLY = 3

each_family = pytest.mark.parametrize("stem", DOCUMENTS)


def teeth(text: str) -> list[int | None]:
    return [None if count == "_" else int(count) for count in text.split("/")]


def pairs_of(known: dict[str, Any]) -> dict[str, list[int | None]]:
    return {pair: teeth(text) for pair, text in known.get("pairs", {}).items()}


def gear_sums(document: dict[str, Any], known: dict[str, Any]) -> dict[str, int]:
    """Tooth sums of the pairs of a set that stand on the two main shafts."""
    inside = {p for path in document["family"].get("paths", {}).values() for p in path} - {"input"}
    return {
        pair: sum(t for t in counts if t is not None)
        for pair, counts in pairs_of(known).items()
        if len(counts) == 2 and None not in counts and pair != "final" and pair not in inside
    }


def reverse_ends(
    document: dict[str, Any], known: dict[str, Any]
) -> tuple[int | None, int | None] | None:
    """First driver and last driven wheel of reverse on the main shafts; None without reverse."""
    pairs = pairs_of(known)
    path = document["family"].get("paths", {}).get("R", ["R"])
    own = [pair for pair in path if pair in pairs and pair != "input"]
    return (pairs[own[0]][0], pairs[own[-1]][-1]) if own else None


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


@each_family
def test_sums(stem):
    """Over all sets of a family the sums on the same two shafts lie within 2 teeth."""
    document = DOCUMENTS[stem]
    if document["family"]["layout"] == "axle":
        counted = [known for known in document["set"] if "pairs" in known]
        assert all(list(pairs_of(known)) == ["final"] for known in counted)
        return
    sums = [s for known in document["set"] for s in gear_sums(document, known).values()]
    assert sums
    assert max(sums) - min(sums) <= LARGEST_SPREAD


@each_family
def test_reverse_clears(stem):
    """The end wheels of a reverse do not touch each other."""
    document = DOCUMENTS[stem]
    for known in document["set"]:
        ends = reverse_ends(document, known)
        if ends is None:
            assert "pairs" not in known or document["family"]["layout"] in {"sleeve", "axle"}
            continue
        driver, driven = ends
        assert driver + driven + CLEARANCE <= min(gear_sums(document, known).values())


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
