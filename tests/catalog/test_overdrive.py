"""Overdrives as families of a catalog: a sun and its annulus, and the ratio with the sun held."""

from fractions import Fraction

import pytest

from catalog.sound import problems_of
from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.changes.made import set_of
from cogtally.catalog.files.reading import read_catalog
from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.model import Catalog, gear_ratios
from cogtally.catalog.search import beside, find_in, find_in_book, parse_query
from cogtally.gears.printed import ROUNDED
from cogtally.gears.recover.problem import pose
from cogtally.gears.recover.rank import recover

TEXT = """\
[family]
id = "linnet-od"
layout = "overdrive"

[[set]]
id = "early"
source = "counted on the bench"
pairs = { OD = "21/75" }

[[set]]
id = "late"
source = "counted on the bench"
pairs = { OD = "24/84" }
ratios = { OD = "0.778" }

[[set]]
id = "tall"
source = "counted on the bench"
pairs = { OD = "27/_" }
"""


@pytest.fixture
def catalog(tmp_path) -> Catalog:
    """A catalog of one overdrive."""
    (tmp_path / "od.toml").write_text(TEXT, encoding="utf-8")
    read, problems = read_catalog(tmp_path / "od.toml")
    assert problems == ()
    return read


def test_ratio(catalog):
    """The ratio is A/(A + S), exact, and none where a wheel is a gap."""
    family = catalog.families[0]
    ratios = [gear_ratios(family, known) for known in family.sets]
    assert ratios == [{"OD": Fraction(75, 96)}, {"OD": Fraction(7, 9)}, {"OD": None}]


def test_pieces(catalog):
    """Sun and annulus are pieces; they are in no mesh with each other, and no gear is theirs."""
    family = catalog.families[0]
    assert [piece.name for piece in family.pieces] == ["OD-sun", "OD-annulus"]
    assert (family.train.meshes, family.train.gears, dict(family.sums)) == ((), (), {})


def test_there_and_back(catalog, tmp_path):
    """An overdrive goes into the book and comes out to the byte."""
    make_catalog_book(tmp_path / "own.db", catalog.families)
    assert toml_of(read_book(tmp_path / "own.db").families) == TEXT


@pytest.mark.parametrize("ratio", ["0.78", "OD=0.778", "0.8"])
def test_found_by_ratio(catalog, tmp_path, monkeypatch, ratio):
    """An overdrive is found by its ratio, by the file beside a book too."""
    query = parse_query([], [ratio])
    hits = find_in(catalog, query).hits
    assert "late" in [hit.known.id for hit in hits if hit.known]
    make_catalog_book(tmp_path / "own.db", catalog.families)
    monkeypatch.setattr(beside, "FEWEST_SETS", 0)
    found = find_in_book(tmp_path / "own.db", query).hits
    assert [(h.known, h.likeness) for h in found] == [(h.known, h.likeness) for h in hits]


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ('"24/84"', '"84/24"', "teeth", "did you mean 24/84?"),
        ('"24/84"', '"24/25"', "teeth", "count both again"),
        ('"24/84"', '"23/84"', "no-planets", "no planets that are evenly spaced"),
        ('"0.778"', '"0.79"', "ratio-contradicts", "the teeth of OD give 0.778"),
        ('{ OD = "0.778" }', '{ 1 = "0.778" }', "ratio-unchecked", "no gear 1"),
        ('pairs = { OD = "24/84" }\n', "", "empty-set", "'cogtally recover --layout overdrive'"),
        ('layout = "overdrive"', 'layout = "overdrive"\ndirect = "4"', "direct", "no direct gear"),
        (
            'layout = "overdrive"',
            'layout = "overdrive"\npaths = { OD = ["OD"] }',
            "path",
            "an overdrive has no paths",
        ),
    ],
)
def test_rules(old, new, code, said):
    """What no overdrive can be is said, where it can be with what is right."""
    found = [p for p in problems_of(TEXT.replace(old, new)) if p.code != "wheel-on-no-piece"]
    assert [problem.code for problem in found] == [code]
    assert said in str(found[0])


@pytest.mark.parametrize("more", [', R = "12/28"', ""])
def test_one_pair(more):
    """An overdrive is one pair of two wheels."""
    text = TEXT.replace('"27/_"', '"27/30/90"').replace('"24/84"', '"24/30/84"')
    text = text.replace('"21/75"', '"21/27/75"').replace('" }', f'"{more} }}')
    text = text.replace('{ OD = "0.778", R = "12/28" }', '{ OD = "0.778" }')
    assert [p.code for p in problems_of(text)] == ["chain"]


def test_recovered(catalog):
    """Teeth recovered of an overdrive are of the pair that the family has, by its own name."""
    found = recover(pose({"overdrive": "0.778"}, layout="overdrive", reading=ROUNDED))
    kept = set_of(found, found.solutions[0], catalog.families[0], "guess")
    assert list(kept.pairs) == list(kept.ratios) == ["OD"]
