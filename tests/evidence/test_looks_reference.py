"""Marks and features beside the brute-force enumeration, on random small catalogs."""

import random
from pathlib import Path
from typing import Any

import pytest

from cogtally.catalog.files.reading import load_catalog
from cogtally.catalog.looked import resolved, resolved_piece
from cogtally.evidence.loose import identify_piece
from cogtally.evidence.reading import identify
from cogtally.gears.looks import parse_piece, with_looks
from cogtally.gears.notation import parse_seen
from cogtally.show.box.json import answer_json
from reference.boxes import random_box
from reference.enumeration import Reference
from reference.looked_worlds import look, looked_world, random_features, random_marks, reading
from reference.loose import identify_piece as reference_piece
from reference.worlds import toml_text

from .test_against_reference import CLOSE, assert_alike, ready, shares
from .test_loose_reference import random_piece, reference_shares, shares as piece_shares

BOXES_A_WORLD, PIECES_A_WORLD = 4, 4


def compare_boxes(seed: int, folder: Path, docs: list[dict[str, Any]] | None = None) -> None:
    docs = docs or looked_world(seed)
    for doc in docs:
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    catalog, judge = load_catalog(folder), Reference(docs)
    dice = random.Random(f"looks {seed}")
    for number in range(BOXES_A_WORLD):
        words = random_box(docs, seed * 100 + number)["words"][: dice.choice([0, 1, 3, 99])]
        marks, features = random_marks(docs, dice), random_features(docs, dice)
        said = [*words, *marks, *features]
        box = resolved(catalog, with_looks(parse_seen(words), marks, features))
        ours, theirs = answer_json(identify(catalog, box)), judge.identify(words, marks, features)
        for part, keys in (("answers", ("kind", "family", "sets")), ("so_far", ("family", "sets"))):
            assert_alike(shares(ours[part], *keys), shares(theirs[part], *keys), said)
        leading = {row["family"] for row in ours["pieces"]}
        of_leading = [row for row in theirs["pieces"] if row["family"] in leading]
        keys = ("family", "piece", "type", "sets")
        assert_alike(shares(ours["pieces"], *keys), shares(of_leading, *keys), said)
        assert abs(ours["hands"]["steady"] - theirs["hands"]["steady"]) < CLOSE, said


def compare_pieces(seed: int, folder: Path) -> None:
    docs = looked_world(seed)
    for doc in docs:
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    catalog, judge = load_catalog(folder), Reference(docs)
    dice = random.Random(f"loose looks {seed}")
    for _ in range(PIECES_A_WORLD):
        words, role = random_piece(judge, dice)
        counted = [word for word in words if word != ".."]
        marks = [reading(dice) for _ in range(dice.choice([0, 1, 1, 2]))]
        features = [
            f"{dice.choice(['', f'{dice.randint(1, len(counted))}.'])}{look(dice)}"
            for _ in range(dice.choice([0, 1, 2]))
        ]
        seen = with_looks(parse_piece(words), marks, features)
        ours = identify_piece(catalog, resolved_piece(catalog, seen), role).posterior
        theirs = reference_piece(judge, words, role, marks, features)
        said = (words, role, marks, features)
        ours_by = piece_shares(ours.answers())
        theirs_by = reference_shares(theirs["answers"])
        assert ours_by == pytest.approx(theirs_by, abs=CLOSE), said
        assert ours.uncatalogued == pytest.approx(theirs["uncatalogued"], abs=CLOSE), said
        assert ours.steady == pytest.approx(theirs["hands"]["steady"], abs=CLOSE), said


#: Catalogs whose boxes take the reference longer than all others together.
SLOW = 3, 9


@pytest.mark.parametrize("seed", [seed for seed in range(14) if seed not in SLOW])
def test_boxes_agree(seed, tmp_path):
    """Every probability of a box with marks and features agrees with the page to 1e-9."""
    compare_boxes(seed, tmp_path)


def test_each_family_in_a_part_of_its_own_agrees(tmp_path, monkeypatch):
    """What was seen of a family goes with it, whatever others it is worked on beside."""
    monkeypatch.setattr(ready, "PART_ROOM", 1)
    one = looked_world(0)[3]
    bare = [{key: each[key] for key in each if key != "marks"} for each in one["set"]]
    twin = {**one, "family": {**one["family"], "id": "twin"}, "set": bare}
    compare_boxes(0, tmp_path, [twin, one])


@pytest.mark.parametrize("seed", range(14))
def test_pieces_agree(seed, tmp_path):
    """Every probability of a loose piece with marks and features agrees with the page to 1e-9."""
    compare_pieces(seed, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("seed", [*SLOW, *range(2000, 2100)])
def test_both_agree_at_length(seed, tmp_path):
    """The same on 102 more catalogs."""
    compare_boxes(seed, tmp_path)
    compare_pieces(seed, tmp_path)
