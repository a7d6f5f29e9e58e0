"""Export, import, export is the same to the byte; nothing is lost without a word."""

import tempfile
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import example, given, strategies as st

from catalog.many import many_families
from catalog.sound import BROCHURE, COMPOUND, SLEEVE, SOUND, read_text
from catalog.test_laws import families
from cogtally.catalog.book import make_catalog_book, read_book
from cogtally.catalog.changes import imports as export
from cogtally.catalog.changes.imports import export_catalog
from cogtally.catalog.files.reading import demo_catalog, read_catalogs
from cogtally.catalog.files.writers import csv_of, left_out_of_csv, lost_in_csv, toml_of
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.gears.errors import UserError

#: Ratios as somebody may print them: 3.65, .8, 02, 4.
printed = st.from_regex(r"[0-9]{0,2}\.?[1-9][0-9]{0,3}", fullmatch=True)
several = st.lists(families(), min_size=1, max_size=3, unique_by=lambda family: family.id)

SCRIPTS = (
    "Коробка, 变速箱, صندوق‌دنده, गियर, κιβώτιο, 🛠\ufe0f, \u202eesrever, a\u2028b, \x85\x00\x7f\"'\\"
)


def for_a_sheet(found: Sequence[Family]) -> list[Family]:
    """The same families without what a sheet has no place for."""
    return [
        replace(f, sets=tuple(replace(s, marks={}, features={}) for s in f.sets)) for f in found
    ]


def again(text: str, name: str) -> tuple[Family, ...]:
    """The families of a text, read as a file, put into a book and read from there."""
    with tempfile.TemporaryDirectory() as folder:
        file, book = Path(folder) / name, Path(folder) / "a.db"
        file.write_bytes(text.encode("utf-8"))
        read, problems = read_catalogs([file], check=False)
        assert [problem for problem in problems if problem.is_error] == []
        make_catalog_book(book, read.families)
        return read_book(book).families


@given(several)
def test_toml(found):
    """TOML, into the book, TOML again: the same text, and the same families in every value."""
    text = toml_of(found)
    kept = again(text, "a.toml")
    assert kept == tuple(found)
    assert toml_of(kept) == text


@given(several)
def test_csv(found):
    """CSV, into the book, CSV again: the same text."""
    text = csv_of(for_a_sheet(found))
    assert csv_of(again(text, "a.csv")) == text


@given(st.text(st.characters(codec="utf-8"), max_size=40))
@example(SCRIPTS)
@example(' "two\r\nlines", ')
@example("=1+1;\t'")
@example("\ufeff")
def test_any_text(text):
    """A name in any script, of any characters, is kept by TOML; by CSV, less spaces at its ends."""
    family = Family("a", "axle", sets=(RatioSet("b", name=text, pairs={"f": (9, 41)}),))
    (kept,) = again(toml_of([family]), "a.toml")
    assert kept == family
    (kept,) = again(csv_of([family]), "a.csv")
    assert kept.sets[0].name == text.strip()


@given(
    st.dictionaries(st.sampled_from(["1", "2", "R"]), printed, min_size=1), st.floats(1e-18, 1e18)
)
@example({"1": "3.65", "2": "2.00", "R": "4.10"}, 1.0)
@example({"1": ".65", "2": "2"}, 1e-7)
def test_csv_numbers(ratios, commonness):
    """CSV keeps every printed decimal and every commonness that fits into a cell."""
    known = RatioSet("b", ratios=ratios, commonness=commonness)
    family = Family("a", "two-shaft", sets=(known,))
    (kept,) = again(csv_of([family]), "a.csv")
    assert kept.sets == (known,)


@pytest.mark.parametrize("text", [SLEEVE, COMPOUND, SOUND + BROCHURE])
def test_everything_written(text):
    """Pieces, shared wheels and paths are written as they were, alone in a file and with others."""
    found = read_text(text)[0].families
    assert again(toml_of(found), "a.toml") == found
    both = [*found, *many_families(1, 2)]
    assert again(toml_of(both), "a.toml") == tuple(both)


def test_demo(tmp_path):
    """The demo catalog, exported, imported and exported again, is the same to the byte."""
    first, second = tmp_path / "first", tmp_path / "second"
    export_catalog(demo_catalog(), first)
    read, _ = read_catalogs([first])
    assert read.families == demo_catalog().families
    make_catalog_book(tmp_path / "a.db", read.families)
    export_catalog(read_book(tmp_path / "a.db"), second)
    assert _bytes(first) == _bytes(second)
    assert len(_bytes(first)) == len(demo_catalog().families)


def _bytes(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_toml_text():
    """TOML is written as a person would: what is usual is left out, what is a name is bare."""
    family = Family(
        "ash-4",
        "layshaft",
        direct="4",
        centre_distance_mm=67.0,
        given_pieces={"1-gear": ("1.driven", "R.driven")},
        sets=(
            RatioSet(
                "wide",
                pairs={"1": (14, 31), "R": (12, None, 28)},
                marks={"laygear": ("LG 31",)},
                features={"1.driver": {"hand": "left", "helix_deg": 22.0, "splines": 10}},
            ),
        ),
    )
    assert toml_of([family]) == (
        '[family]\nid = "ash-4"\nlayout = "layshaft"\ndirect = "4"\ncentre_distance_mm = 67\n\n'
        '[family.pieces]\n1-gear = ["1.driven", "R.driven"]\n\n'
        '[[set]]\nid = "wide"\npairs = { 1 = "14/31", R = "12/_/28" }\n'
        'marks = { laygear = ["LG 31"] }\n[set.features]\n'
        '"1.driver" = { hand = "left", helix_deg = 22.0, splines = 10 }\n'
    )


def test_csv_text():
    """CSV has a column a wheel, `_` for a gap, and decimals where all ratios of a row agree."""
    found = read_text(SOUND + BROCHURE)[0].families
    assert csv_of(for_a_sheet(found)).splitlines() == [
        "family,layout,direct,set,name,commonness,source,decimals,input.driver,input.driven,"
        "1.driver,1.driven,2.driver,2.driven,3.driver,3.driven,R.driver,R.idler,R.driven,"
        "ratio 1,ratio 2,ratio 3",
        'ash-4,layshaft,4,wide,,1,"counted on the bench, two boxes",,'
        "17,28,14,31,19,26,24,21,12,20,28,,,",
        'ash-4,layshaft,4,late,,1,"counted on the bench, one box",,'
        "18,27,14,31,19,26,23,22,12,20,28,,,",
        "ash-4,layshaft,4,brochure,,1,a brochure,2,,,,,,,,,,,,3.29,2.06,1.32",
    ]


def test_toml_is_toml():
    """What is written is TOML to any reader of it."""
    document = tomllib.loads(toml_of(demo_catalog().families))
    assert [f["id"] for f in document["family"]] == [f.id for f in demo_catalog().families]


LOSSES: dict[str, Callable[[Family], Family]] = {
    "its pieces": lambda f: replace(f, given_pieces={"a": ("1.driven",)}),
    "its spelled-out paths": lambda f: replace(f, paths={"R": ("input",)}),
    "its shared wheels": lambda f: replace(f, same={"R.driver": "1.driver"}),
    "the marks of set-0": lambda f: f,
    "the features of set-0": lambda f: replace(
        f, sets=(replace(f.sets[0], features={"a": {"b": 1}}),)
    ),
}


@pytest.mark.parametrize("what", LOSSES)
def test_csv_refuses(tmp_path, what):
    """CSV is refused where it would lose something, and says what; nothing is written."""
    family = LOSSES[what](many_families(1, 1)[0])
    assert what in lost_in_csv(family)
    with pytest.raises(UserError, match=f"box-0: CSV would lose .*{what}"):
        export_catalog(Catalog((family,)), tmp_path / "out", "csv")
    assert list(tmp_path.iterdir()) == []


def test_csv_refuses_a_number(tmp_path):
    """A commonness of more digits than a cell can have is refused for CSV."""
    (family,) = for_a_sheet(many_families(1, 1, commonness=1e-60))
    with pytest.raises(UserError, match="box-0/set-0: a commonness of 1e-60 has no place"):
        export_catalog(Catalog((family,)), tmp_path / "a.csv")


def test_left_out(tmp_path):
    """What CSV has no column for is told beside what was written."""
    (family,) = for_a_sheet(many_families(1, 2))
    full = replace(family, note="a note", aliases=("b",), centre_distance_mm=60.0)
    assert left_out_of_csv(full) == ("name", "aliases", "note", "centre distance")
    done = export_catalog(Catalog((full,)), tmp_path / "a.csv")
    assert done.left_out == {"box-0": left_out_of_csv(full)}
    assert export_catalog(Catalog((full,)), tmp_path / "a.toml").left_out == {}


@pytest.mark.parametrize(
    ("path", "form", "files"),
    [
        ("out", None, ["out/box-0.toml", "out/box-1.toml"]),
        ("out", "csv", ["out/box-0.csv", "out/box-1.csv"]),
        ("deep/out", "toml", ["deep/out/box-0.toml", "deep/out/box-1.toml"]),
        ("a.toml", None, ["a.toml"]),
        ("A.TOML", "toml", ["A.TOML"]),
        ("a.csv", None, ["a.csv"]),
    ],
)
def test_files(tmp_path, path, form, files):
    """A name that ends in .toml or .csv is one file, any other a folder of one file a family."""
    catalog = Catalog(tuple(for_a_sheet(many_families(2, 2))))
    done = export_catalog(catalog, tmp_path / path, form)
    there = sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file())
    assert there == files == [f.relative_to(tmp_path).as_posix() for f in done.files]


@pytest.mark.parametrize(
    ("path", "form", "said"),
    [
        ("a.toml", "csv", "the name ends in .toml, and csv was asked for"),
        ("out", "json", "no such format; write toml or csv"),
        ("file/out", None, "it cannot be written: not a directory"),
    ],
)
def test_refused(tmp_path, path, form, said):
    """What cannot be done is said in one line."""
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError) as error:
        export_catalog(Catalog(tuple(many_families(1, 1))), tmp_path / path, form)
    assert said in str(error.value)


def test_empty(tmp_path):
    """An empty catalog is not exported."""
    with pytest.raises(UserError, match="the catalog is empty"):
        export_catalog(Catalog(()), tmp_path / "out")


def test_one_file_too_large(tmp_path, monkeypatch):
    """One file that could not be read back is refused, with what to do instead."""
    monkeypatch.setattr(export, "MOST_BYTES", 1000)
    with pytest.raises(UserError, match="one file would be larger than 0 MB; name a folder"):
        export_catalog(Catalog(tuple(many_families(1, 60))), tmp_path / "a.toml")
    assert list(tmp_path.iterdir()) == []
