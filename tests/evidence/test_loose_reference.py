"""A loose piece beside the brute-force enumeration, on random small catalogs of every layout."""

import random
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cogtally.catalog.files.reading import load_catalog
from cogtally.catalog.model import Catalog
from cogtally.evidence.loose import LoosePosterior, LooseShare, candidates
from cogtally.gears.looks import parse_piece
from reference.enumeration import Reference
from reference.loose import identify_piece, read_piece
from reference.worlds import toml_text, world
from reference.worth import position_worth

CLOSE, CLOSE_WORTH = 1e-9, 1e-6
PIECES_A_WORLD = 4
#: An answer by family, piece, teeth (None: unlisted) and sets.
Key = tuple[str, str, tuple[int | None, ...] | None, tuple[str, ...]]


def random_piece(judge: Reference, dice: random.Random) -> tuple[list[str], str | None]:
    """Some stretch of a listed type, counted well or badly from either end, or anything."""
    family = dice.choice([f for f in judge.families if f.types])
    name = dice.choice([p for p in family.types if family.types[p]] or [""])
    if not name or dice.random() < 0.1:
        return [str(dice.randint(9, 45)) for _ in range(dice.randint(1, 7))], None
    teeth = list(dice.choice(family.types[name]).teeth)
    first = dice.randrange(len(teeth)) if dice.random() < 0.4 else 0
    last = dice.randint(first + 1, len(teeth)) if dice.random() < 0.4 else len(teeth)
    words = []
    for t in teeth[first:last]:
        off = dice.choice([0, 0, 0, 0, 1, -1, 9])
        mark = dice.choice(["", "", "", "u", "x2", "x3"])
        words.append("_" if t is None or dice.random() < 0.15 else f"{max(4, t + off)}{mark}")
    words = [*([".."] if first else []), *words, *([".."] if last < len(teeth) else [])]
    role = name if dice.random() < 0.3 else None
    return (words[::-1] if dice.random() < 0.5 else words), role


def shares(answers: Iterable[LooseShare]) -> dict[Key, float]:
    """Every answer by family, piece, teeth (None: unlisted) and sets."""
    found: dict[Key, float] = {}
    for a in answers:
        key = a.family, a.piece, a.kind.teeth if a.kind else None, a.sets
        found[key] = found.get(key, 0.0) + a.probability
    return found


def reference_shares(answers: Iterable[Mapping[str, Any]]) -> dict[Key, float]:
    """The same of the reference."""
    found: dict[Key, float] = {}
    for a in answers:
        teeth = None if a["type"] is None else tuple(a["type"])
        key = a["family"], a["piece"], teeth, tuple(a["sets"])
        found[key] = found.get(key, 0.0) + a["probability"]
    return found


def compare(seed: int, folder: Path) -> None:
    docs = world(seed)
    for doc in docs:
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    catalog, judge = load_catalog(folder), Reference(docs)
    dice = random.Random(f"loose {seed}")
    for _ in range(PIECES_A_WORLD):
        words, role = random_piece(judge, dice)
        ours = LoosePosterior(catalog, parse_piece(words), role)
        theirs = identify_piece(judge, words, role)
        ours_by = shares(ours.answers())
        theirs_by = reference_shares(theirs["answers"])
        assert ours_by == pytest.approx(theirs_by, abs=CLOSE), (words, role)
        assert ours.uncatalogued == pytest.approx(theirs["uncatalogued"], abs=CLOSE), (words, role)
        assert ours.steady == pytest.approx(theirs["hands"]["steady"], abs=CLOSE), (words, role)
        seen = read_piece(words)
        worth = [position_worth(judge, seen, i, role) for i in range(len(seen.counts))]
        assert ours.worth == pytest.approx(worth, abs=CLOSE_WORTH), (words, role)


@pytest.mark.parametrize("seed", range(30))
def test_every_probability_and_worth_agrees(seed, tmp_path):
    """Shares and hands agree with the page to 1e-9, the worth of every place to 1e-6."""
    compare(seed, tmp_path)


@pytest.mark.parametrize("table", ["_excluded", "_new_own", "_new_shares", "_rho", "_pool"])
def test_a_spoilt_table_is_seen(table, tmp_path, monkeypatch):
    """With a hundredth added to one table of a catalog made ready the comparison fails."""

    class Spoilt(candidates.LooseCatalog):
        def __init__(self, catalog: Catalog) -> None:
            super().__init__(catalog)
            setattr(self, table, 1.01 * np.array(getattr(self, table)))

    monkeypatch.setattr(candidates, "LooseCatalog", Spoilt)
    folders = [tmp_path / str(seed) for seed in range(2)]
    for folder in folders:
        folder.mkdir()
    with pytest.raises(AssertionError, match="comparison failed"):
        any(compare(seed, folder) for seed, folder in enumerate(folders))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(1000, 1200))
def test_every_probability_and_worth_agrees_at_length(seed, tmp_path):
    """The same on 200 more catalogs."""
    compare(seed, tmp_path)
