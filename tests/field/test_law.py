"""The page's law of a loose piece beside the brute-force enumeration; the browser is left aside."""

import random
import shutil
from pathlib import Path

import pytest

from cogtally.catalog.files.reading import load_catalog
from field.page import MODULES, answers, needs_node, off, tables
from field.pieces import piece
from reference.enumeration import Reference
from reference.loose import identify_piece, read_piece
from reference.worlds import toml_text, world
from reference.worth import position_worth

pytestmark = needs_node
PIECES, WORTH = 8, 2


def compared(seed: int, folder: Path, modules: Path = MODULES) -> float:
    """How far the page's law is at most from the enumeration, on pieces of one random catalog."""
    docs = world(seed)
    for doc in docs:
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    catalog, judge = load_catalog(folder), Reference(docs)
    if not any(family.counted_sets for family in catalog.families):
        return 0.0
    dice = random.Random(f"field {seed}")
    asked = [piece(catalog, dice) for _ in range(PIECES)]
    found = answers(tables(catalog), asked, modules)
    apart = [
        off(ours, identify_piece(judge, a["counts"], a["role"], a["marks"], a["features"]))
        for ours, a in zip(found, asked, strict=True)
    ]
    plain = [(o, a) for o, a in zip(found, asked, strict=True) if not (a["marks"] or a["features"])]
    for ours, a in plain[:WORTH]:
        seen = read_piece(a["counts"])
        for one in ours["next"]:
            bits = position_worth(judge, seen, one["position"] - 1, a["role"])
            assert one["bits"] == pytest.approx(bits, abs=1e-6), a
    return max(apart)


@pytest.mark.parametrize("seed", range(8))
def test_every_probability_is_the_enumerations(seed, tmp_path):
    """Shares and hands agree to 1e-9, what a count is worth to 1e-6 bit."""
    assert compared(seed, tmp_path) < 1e-9


@pytest.mark.parametrize(
    ("law", "changed"),
    [
        ("none = 1, one = n - way.length", "none = 1, one = 0"),
        ("law.asFamily * sum", "law.asFamily * sum * 1.001"),
        ("weight * one / n", "weight * one / way.length"),
    ],
)
def test_a_law_that_is_changed_is_found_out(law, changed, tmp_path):
    """A page with one figure or rule of the law changed does not agree."""
    modules = tmp_path / "page"
    shutil.copytree(MODULES, modules)
    source = (modules / "law.js").read_text(encoding="utf-8")
    assert source.count(law) >= 1
    (modules / "law.js").write_text(source.replace(law, changed), encoding="utf-8")
    worst = 0.0
    for seed in range(8):
        folder = tmp_path / str(seed)
        folder.mkdir()
        worst = max(worst, compared(seed, folder, modules) if worst < 1e-9 else 0.0)
    assert worst > 1e-9
