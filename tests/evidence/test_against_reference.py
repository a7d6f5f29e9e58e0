"""The solver beside the brute-force enumeration, on random small catalogs of every layout."""

from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from cogtally.catalog.files.reading import load_catalog
from cogtally.catalog.model import Catalog
from cogtally.evidence.engine import question, stack, sums
from cogtally.evidence.engine.meshes import Meshes
from cogtally.evidence.reading import identify
from cogtally.gears.notation import parse_seen
from cogtally.show.box.json import answer_json
from reference.boxes import random_box
from reference.enumeration import Reference
from reference.worlds import toml_text, world

#: The room; its door has a function of that name.
ready = import_module("cogtally.evidence.engine.ready")

CLOSE = 1e-9
SMALLEST_SHOWN = 1e-6
#: What a spoilt table is wrong by.
SPOILT = 1.0001
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
    boxes = [random_box(docs, seed * 100 + number)["words"] for number in range(BOXES_A_WORLD)]
    compare_boxes(docs, [words for words in boxes if words], folder)


def compare_boxes(docs: list[dict[str, Any]], boxes: list[list[str]], folder: Path) -> None:
    catalog, reference = catalog_of(docs, folder), Reference(docs)
    for words in boxes:
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


#: Catalogs that take the reference as long as half of the others together.
SLOW = 16, 23


@pytest.mark.parametrize("seed", [seed for seed in range(32) if seed not in SLOW])
def test_every_probability_agrees(seed, tmp_path):
    """Answers, so-far groups, pieces and hands of `identify --json` agree with the page to 1e-9."""
    compare(seed, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("seed", [*SLOW, *range(1000, 1300)])
def test_every_probability_agrees_at_length(seed, tmp_path):
    """The same on 302 more catalogs."""
    compare(seed, tmp_path)


#: Wheels that close a ring of meshes, one of them a sliding gear that is another pair's too.
RING = {
    "family": {
        "id": "ring-3",
        "layout": "two-shaft",
        "same": {"2.driver": "1.driven", "3.driver": "2.driven", "3.driven": "1.driver"},
    },
    "set": [
        {"id": "a", "pairs": {"1": "20/24", "2": "24/31", "3": "31/20"}},
        {"id": "b", "pairs": {"1": "21/24", "2": "24/30", "3": "30/21"}, "commonness": 3},
    ],
}
#: A path of three pairs over an axle, the gears on one shaft made in one piece.
COMPOUND = {
    "family": {
        "id": "compound-3",
        "layout": "two-shaft",
        "paths": {"R": ["1", "R1", "R2"], "1": ["1"], "2": ["2"]},
        "pieces": {
            "shaft": ["1.driver", "2.driver"],
            "one": ["1.driven", "R1.driver"],
            "two": ["2.driven"],
            "idle": ["R1.driven", "R2.driver"],
            "last": ["R2.driven"],
        },
    },
    "set": [
        {"id": "a", "pairs": {"1": "14/31", "2": "19/26", "R1": "13/22", "R2": "15/25"}},
        {"id": "b", "pairs": {"1": "15/30", "2": "19/_", "R1": "13/22", "R2": "16/24"}},
    ],
}


@pytest.mark.parametrize(
    ("doc", "boxes"),
    [
        (RING, ["1=20/24x3", "2.driven=30 3.driven=21u", "1@4:3.33 1.driver=21"]),
        (COMPOUND, ["1=14/31 R1.driver=13", "R@4:0.62 2=19/27x2", "R2=16/24 1+2@2:0.7 1@1:2"]),
    ],
    ids=["ring", "compound"],
)
def test_rings_and_compound_paths_agree(doc, boxes, tmp_path):
    """Wheels in a ring of meshes, and paths of many pairs, agree with the page to 1e-9."""
    compare_boxes([doc], [words.split() for words in boxes], tmp_path)


#: The sets of families of one shape, which have the first of these, the first two, or all.
_SETS = [
    {"id": "a", "pairs": {"input": "17/28", "1": "14/31", "2": "19/26"}},
    {"id": "b", "pairs": {"input": "17/28", "1": "13/32", "2": "19/26"}, "commonness": 3},
    {"id": "c", "pairs": {"input": "18/27", "1": "14/31", "2": "19/26"}},
    {"id": "d", "pairs": {"input": "18/27", "1": "13/32", "2": "20/25"}, "commonness": 2},
]
ALIKE = [
    {"family": {"id": f"of-{sets}", "layout": "layshaft", "direct": "3"}, "set": _SETS[:sets]}
    for sets in (1, 2, 4)
]
#: Each family summed by itself, in one part with all or in a part of its own; or as many as fit.
at_once = pytest.mark.parametrize(
    ("numbers", "room"), [(1, ready.PART_ROOM), (1, 1), (sums.AT_ONCE, ready.PART_ROOM)]
)


@at_once
def test_how_many_families_are_worked_on_at_once_changes_nothing(
    numbers, room, tmp_path, monkeypatch
):
    """Families with fewer sets and types than their stack has room for agree with the page."""
    monkeypatch.setattr(sums, "AT_ONCE", numbers)
    monkeypatch.setattr(ready, "PART_ROOM", room)
    boxes = ["input=17/28 1.driver=14", "2=19/26 1@4:1.2", "1=13/32u", "2.driven=24 R@3:1"]
    compare_boxes(ALIKE, [words.split() for words in boxes], tmp_path)


def _spoil_mesh(patch: pytest.MonkeyPatch) -> None:
    whole = Meshes.table

    def table(self: Meshes, laws: Any) -> Any:
        found = whole(self, laws).copy()
        found[:, :, 0] *= SPOILT
        return found

    patch.setattr(Meshes, "table", table)


def _spoil_turn(patch: pytest.MonkeyPatch) -> None:
    whole = question.densities
    patch.setattr(question, "densities", lambda r, ratio: whole(r, ratio * SPOILT))


def _spoil_terms(patch: pytest.MonkeyPatch) -> None:
    whole = stack.common_sets
    patch.setattr(stack, "common_sets", lambda own: {m: s * SPOILT for m, s in whole(own).items()})


@pytest.mark.parametrize("spoil", [_spoil_mesh, _spoil_turn, _spoil_terms])
def test_a_spoilt_table_is_seen(spoil, tmp_path, monkeypatch):
    """A table that is wrong by a ten-thousandth makes the comparison fail."""
    boxes = [["1=14/31", "1@4:1.8"], ["2=19/26", "R1.driver=13"]]
    compare_boxes([COMPOUND], boxes, tmp_path)
    spoil(monkeypatch)
    with pytest.raises(AssertionError):
        compare_boxes([COMPOUND], boxes, tmp_path)
