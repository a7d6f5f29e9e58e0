"""Files and folders: which are read, which are refused, and that nothing stops at the first."""

import os
from pathlib import Path

import pytest

from catalog.sound import COMPOUND, SLEEVE, SOUND, spoilt
from cogtally.catalog.check.rules import check_catalog
from cogtally.catalog.files import reading as files
from cogtally.catalog.files.reading import demo_catalog, load_catalog, read_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.problem import PATH_CODES, CatalogError, Problem
from cogtally.gears.errors import UserError

ROOT = Path(__file__).parents[2]

NINE = """\
[family]
id = "Ash"
layot = "layshaft"
direct = 4
[family.pieces]
hub = ["9.driven"]

[[set]]
id = "wide"
source = "counted"
pairs = { input = "17/28", 1 = "3/31", 2 = "19", R = "12/20/28" }

[[set]]
id = "wide"
source = "counted"
commonness = -1
pairs = { input = "18/27", 1 = "14/31", 2 = "19/26", R = "12/20/28" }
ratios = { 1 = "3,32" }
"""


def write(folder: Path, **texts: str | bytes) -> Path:
    """Write files, `ash_toml` as ash.toml, and return their folder."""
    for name, text in texts.items():
        data = text if isinstance(text, bytes) else text.encode("utf-8")
        (folder / name.replace("_", ".")).write_bytes(data)
    return folder


def codes(path: Path | str) -> list[str]:
    return [problem.code for problem in read_catalog(path)[1]]


def test_nine_mistakes(tmp_path):
    """Nine mistakes in one file are nine problems, in the order of their lines."""
    text = spoilt(
        NINE, ("layot", "layout"), ('["9.driven"]', "9"), ('"12/20/28" }\n\n', '"x/20/28" }\n\n')
    )
    problems = read_catalog(write(tmp_path, ash_toml=text) / "ash.toml")[1]
    assert [(p.line, p.code) for p in problems] == [
        (2, "bad-id"),
        (4, "wrong-kind"),
        (6, "wrong-kind"),
        (11, "teeth"),
        (11, "chain"),
        (11, "teeth"),
        (14, "id-twice"),
        (16, "commonness"),
        (18, "ratio"),
    ]


def test_misspelt_layout_hides_nothing(tmp_path):
    """A family of no known layout still has the mistakes of its values told."""
    found = codes(write(tmp_path, ash_toml=NINE))
    assert found == ["bad-id", "unknown-key", "wrong-kind", *found[3:]]
    assert set(found[3:]) == {"teeth", "chain", "id-twice", "commonness", "ratio"}


def test_folder(tmp_path):
    """A folder is its TOML and CSV files by name, not its subfolders, hidden and other files."""
    sheet = (
        "family,layout,set,source,final.driver,final.driven\nx,axle,a,y,9,41\nx,axle,b,y,10,41\n"
    )
    write(tmp_path, b_TOML=SLEEVE, a_csv=sheet, c_toml=COMPOUND, d_txt="no", e_md="no")
    (tmp_path / ".f.toml").write_text("no")
    (tmp_path / "g.toml").mkdir()
    (tmp_path / "sub").mkdir()
    write(tmp_path / "sub", h_toml=SOUND)
    catalog, problems = read_catalog(tmp_path)
    assert problems == ()
    assert [family.id for family in catalog.families] == ["x", "sallow-3", "tarn-3"]
    assert (catalog.name, catalog.set_count, catalog.demo) == (tmp_path.name, 6, False)


def test_all_files(tmp_path):
    """Problems of all files are told, file by file; a good file beside them is read."""
    write(tmp_path, a_toml="x", b_toml=spoilt(SOUND, ("14/31", "3/31")), c_csv="x", d_toml=SLEEVE)
    catalog, problems = read_catalog(tmp_path)
    assert [(Path(p.file).name, p.code) for p in problems] == [
        ("a.toml", "bad-toml"),
        ("b.toml", "teeth"),
        ("c.csv", "bad-csv"),
    ]
    assert [family.id for family in catalog.families] == ["ash-4", "sallow-3"]


def test_id_in_two_files(tmp_path):
    """The id of a family is told where it comes a second time."""
    (problem,) = read_catalog(write(tmp_path, a_toml=SOUND, b_toml=SOUND))[1]
    assert (Path(problem.file).name, problem.line, problem.code) == ("b.toml", 2, "id-twice")


def test_mark_in_two_families(tmp_path):
    """A mark on types of two families is warned of, but not on the same part in two casings."""
    marked = spoilt(SOUND, ('id = "wide"', 'id = "wide"\nmarks = { laygear = ["LG 1"] }'))
    other = spoilt(marked, ('id = "ash-4"', 'id = "oak-4"'))
    assert codes(write(tmp_path, a_toml=marked, b_toml=other)) == []
    (problem,) = read_catalog(write(tmp_path, b_toml=spoilt(other, ("14/31", "15/30"))))[1]
    assert problem.code == "mark-twice"
    assert "laygear of ash-4/wide" in problem.sentence


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("a.toml", b'[family]\nid = "\xff"\n', "not-utf8"),
        ("a.csv", "family,layout\n".encode("utf-16"), "not-utf8"),
        ("a.toml", bytes(range(256)) * 10_000, "not-utf8"),
        ("a.toml", b"noise " * 400_000, "bad-toml"),
        ("a.csv", b"noise " * 400_000, "bad-csv"),
        ("a.csv", b"noise\n" * 4_000, "bad-csv"),
        ("a", SOUND.encode(), "not-a-catalog"),
        ("a.json", b"{}", "not-a-catalog"),
    ],
)
def test_no_catalog(tmp_path, name, data, code):
    """What is no catalog at all, however large, is one problem."""
    (tmp_path / name).write_bytes(data)
    assert codes(tmp_path / name) == [code]


HOSTILE = {
    "tables": ("a.toml", lambda n: "".join(f"[t{i}]\n" for i in range(n)), "too-big"),
    "inline tables": ("a.toml", lambda n: f"x = [{','.join(['{}'] * n)}]\n", "too-big"),
    "keys": ("a.toml", lambda n: "".join(f"k{i}=1\n" for i in range(7 * n)), "too-big"),
    "dotted keys": ("a.toml", lambda n: "".join(f"a{i}.b.c = 1\n" for i in range(n)), "too-big"),
    "values": ("a.toml", lambda n: f"x = [{'1,' * 7 * n}]\n", "too-big"),
    "lists": ("a.toml", lambda n: f"x = {'[' * 7 * n}", "too-big"),
    "sets": ("a.toml", lambda n: FAMILY + "".join(SET.format(i) for i in range(2001)), "too-many"),
    "pairs": ("a.toml", lambda n: FAMILY + SET.format("a") + PAIRS, "too-many"),
    "rows": ("a.csv", lambda n: HEADER + "a,axle,b,9,41\n" * n, "too-big"),
    "rows of a family": ("a.csv", lambda n: HEADER + "a,axle,b,9,41\n" * 2001, "too-many"),
    "columns": ("a.csv", lambda n: f"{HEADER.strip()},{',' * 400}x.driver\n", "too-many"),
}
FAMILY = '[family]\nid = "a"\nlayout = "two-shaft"\n'
SET = '[[set]]\nid = "s{}"\nsource = "x"\n'
PAIRS = "[set.pairs]\n" + "".join(f'p{i} = "14/31"\n' for i in range(201))
HEADER = "family,layout,set,final.driver,final.driven\n"


@pytest.mark.parametrize(("name", "text", "code"), HOSTILE.values(), ids=HOSTILE)
def test_more_than_any_honest_file(tmp_path, name, text, code):
    """A file with more of anything than an honest one has is refused, and is no family."""
    (tmp_path / name).write_text(text(61_000))
    catalog, problems = read_catalog(tmp_path / name)
    assert code in [problem.code for problem in problems]
    assert sum(len(family.sets) for family in catalog.families) <= 1


@pytest.mark.parametrize("path", ["", "no/such", "no\0such", "x" * 5000])
def test_no_such_path(path):
    """A path that is not there, or cannot be one, is one problem of the path."""
    (problem,) = read_catalog(path)[1]
    assert problem.code in PATH_CODES


def test_no_catalogs(tmp_path):
    """A folder without catalogs says that subfolders are not read."""
    (problem,) = read_catalog(tmp_path)[1]
    assert problem.code == "no-catalogs"
    assert "subfolders are not read" in problem.mend


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_pipe(tmp_path):
    """A pipe of a catalog's name is refused rather than waited for."""
    os.mkfifo(tmp_path / "a.toml")
    assert codes(tmp_path / "a.toml") == ["unreadable"]


def test_too_large(tmp_path, monkeypatch):
    """A file is read up to the limit of its size and refused beyond it."""
    monkeypatch.setattr(files, "MOST_BYTES", len(SOUND))
    assert codes(write(tmp_path, a_toml=SOUND)) == []
    assert codes(write(tmp_path, a_toml=SOUND + "#")) == ["too-big"]


def test_too_many_files(tmp_path, monkeypatch):
    """A folder is read up to the limit of its files and refused beyond it."""
    monkeypatch.setattr(files, "MOST_FILES", 2)
    assert codes(write(tmp_path, a_toml=SOUND, b_toml=SLEEVE)) == []
    assert codes(write(tmp_path, c_toml=COMPOUND)) == ["too-many-files"]


def test_load(tmp_path):
    """Warnings do not keep a catalog from being loaded."""
    path = write(tmp_path, a_toml=spoilt(SOUND, ('"14/31"', '"8/37"')))
    assert load_catalog(path) == read_catalog(path)[0]


def test_load_with_errors(tmp_path):
    """A catalog with errors is one error of the user's, with all its errors and warnings."""
    text = spoilt(SOUND, ("14/31", "3/31"), ("17/28", "17/280"), ('"19/26"', '"8/37"'))
    with pytest.raises(CatalogError) as caught:
        load_catalog(write(tmp_path, a_toml=text))
    error = caught.value
    assert isinstance(error, UserError)
    assert [p.code for p in error.problems] == ["teeth", "teeth"]
    assert [p.code for p in error.warnings] == ["few-teeth"]
    assert str(error) == str(error.problems[0])


def test_without_check(tmp_path):
    """Without the check no rule is asked, but what cannot be read is still told."""
    path = write(tmp_path, a_toml=spoilt(SOUND, ('"late"', '"wide"')), b_toml="x")
    assert [p.code for p in read_catalog(path, check=False)[1]] == ["bad-toml"]


def test_entangled(tmp_path):
    """A family too entangled to compute is an error; one with another error is not asked about."""
    path = write(tmp_path, a_toml=SOUND, b_toml=spoilt(SLEEVE, ("16/28", "3/28")))
    asked: list[str] = []

    def entangled(family: Family) -> bool:
        asked.append(family.id)
        return True

    problems = read_catalog(path, entangled=entangled)[1]
    assert [(p.code, p.family) for p in problems] == [("entangled", "ash-4"), ("teeth", "sallow-3")]
    assert asked == ["ash-4"]


def test_catalog_of_no_file():
    """A catalog that came from no file is checked by the same rules, without lines."""
    family = Family("ash", "axle", sets=(RatioSet("a", source="x"), RatioSet("a", source="x")))
    problems = check_catalog(Catalog((family, family)))
    assert {p.code for p in problems} == {"empty-set", "id-twice"}
    assert {(p.file, p.line) for p in problems} == {("", None)}
    assert len(problems) == 7


def test_demo():
    """The demo catalog is its files; no error, two small pinions, two sets of the same teeth."""
    from cogtally.evidence.structure import is_entangled

    demo = demo_catalog()
    catalog, problems = read_catalog(ROOT / "catalog", entangled=is_entangled)
    assert demo.demo
    assert demo.families == catalog.families
    assert [(p.severity, p.code, f"{p.family}/{p.set}") for p in problems] == [
        ("warning", "few-teeth", "pellgate-axle/7-38"),
        ("warning", "few-teeth", "pellgate-axle/8-38"),
        ("warning", "sets-alike", "willow-4/twenty-three-spline"),
        ("warning", "sets-alike", "willow-4/other-hand"),
    ]


def test_problem_as_a_line():
    """A problem reads as place, subject, sentence and mend, each only where it is known."""
    full = Problem("error", "x", "a.toml", 3, "ash", "wide", "pairs.1", "It is.", "mend it", 7)
    assert str(full) == "a.toml:3:7: ash/wide, pairs.1: It is.; mend it"
    assert str(Problem("error", "x", "", None, "", "", "", "It is.")) == "It is."


def test_strangers_text(tmp_path):
    """No problem shows a character that a terminal would obey, or a text at full length."""
    bad = "\\u001b[31m" + "x" * 500
    text = spoilt(SOUND, ('"wide"', f'"{bad}"'), ("2 =", f'"{bad}" ='), ("late", f"{bad}"))
    for problem in read_catalog(write(tmp_path, a_toml=text))[1]:
        said = str(problem).replace(str(tmp_path), "")
        assert said.isprintable()
        assert len(said) < 400


@pytest.mark.parametrize(
    "written",
    [
        'name = "{}"',
        'source = "{}"',
        'aliases = ["{}"]',
        'marks = {{ laygear = ["{}"] }}',
        'features = {{ laygear = {{ a = "{}" }} }}',
        'features = {{ laygear = {{ "{}" = 1 }} }}',
    ],
)
def test_long_text(tmp_path, written):
    """A text of 10,000 characters is kept, one more is an error wherever it stands."""
    bare = spoilt(SOUND, ('source = "counted on the bench, one box"\n', ""))
    for length, expected in ((10_000, []), (10_001, ["text-too-long"])):
        text = spoilt(bare, ('id = "late"', 'id = "late"\n' + written.format("x" * length)))
        problems = read_catalog(write(tmp_path, a_toml=text))[1]
        assert [p.code for p in problems if p.is_error] == expected
        assert all(len(p.key) <= 40 for p in problems)
