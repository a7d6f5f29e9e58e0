"""`cogtally catalog init | import | export | log | undo`, run as a person runs them."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from catalog.many import many_families
from catalog.sound import BROCHURE, SOUND, spoilt
from cli.terminal import Terminal
from cogtally.catalog.book import read_book
from cogtally.catalog.files.writers import toml_of
from cogtally.cli import known
from cogtally.store import STEPS
from conftest import refused

CHANGED = spoilt(SOUND, ("24/21", "23/22"), ('"14/31"', '"15/30"'))


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch) -> Path:
    """The user's own book, in a folder of the test's; the program is run beside some files."""
    monkeypatch.setattr(known, "own_book", lambda: tmp_path / "data" / "cogtally.db")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    for name, text in {
        "ash.toml": SOUND,
        "ash-2.toml": CHANGED,
        "more.toml": SOUND + BROCHURE,
        "wrong.toml": spoilt(SOUND, ("14/31", "3/31"), ("name = ", "nmae = ")),
        "oak.csv": "family,layout,set,source,f.driver,f.driven\nOak,axle,a,x,9,2\no,axle,b,x,9,\n",
        "names.toml": spoilt(SOUND, ('"wide"', '"wide"\nname = "[/5th] [b]\\u001b[31m"')),
    }.items():
        Path(name).write_text(text, encoding="utf-8")
    return tmp_path / "data" / "cogtally.db"


def steady(text: str, own: Path) -> str:
    """A screen without what differs from run to run: the time, and where the test runs."""
    text = re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC", "2031-05-06 07:08:09 UTC", text)
    return text.replace(str(own), "BOOK")


def test_first_steps(cogtally, own):
    """Without a catalog every command says how to begin; an import begins one."""
    refused(
        cogtally("identify", "1=14/31"),
        "You have no catalog yet; begin one with 'cogtally catalog import PATH'",
    )
    ran = cogtally("catalog", "import", "ash.toml")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == f"Families: 1 new.\nSets: 2 new.\nWritten into a new book: {own}\n"
    ran = cogtally("identify", "input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
    assert ran.code == 0
    assert "ash-4/wide" in ran.out


def test_init(cogtally, own):
    """An empty book is made once, and says what to do next; commands say that it is empty."""
    ran = cogtally("catalog", "init")
    assert (ran.code, ran.out) == (0, f"Made an empty book: {own}\n")
    assert "'cogtally catalog import PATH' fills it" in ran.err
    before = own.read_bytes()
    refused(cogtally("catalog", "init"), f"cogtally: {own}: there is a file already; nothing was c")
    assert own.read_bytes() == before
    refused(
        cogtally("identify", "1=14/31"),
        f"{own}: the catalog is empty; 'cogtally catalog import PATH' fills it",
    )


def test_all_or_nothing(cogtally, own):
    """All errors of all files are told, and nothing is written, not even of the sound files."""
    cogtally("catalog", "import", "ash.toml")
    before = own.read_bytes()
    ran = cogtally("catalog", "import", "more.toml", "wrong.toml", "oak.csv", "--replace")
    assert (ran.code, ran.out) == (2, "")
    lines = ran.err.splitlines()
    assert [line.split(":")[1].strip() for line in lines] == [
        *["wrong.toml"] * 3,
        *["oak.csv"] * (len(lines) - 3),
    ]
    assert len(lines) > 4
    assert own.read_bytes() == before


def test_same_changed_and_replace(cogtally, own, snapshot):
    """An import tells new, same and changed; what would change wants --replace; undo undoes."""
    cogtally("catalog", "import", "ash.toml")
    ran = cogtally("catalog", "import", "ash.toml")
    assert ran.out.endswith("Nothing was written: the book has all of it.\n")
    screens = {}
    for columns in (60, 100):
        ran = cogtally("catalog", "import", "ash-2.toml", "--dry-run", columns=columns)
        assert (ran.code, ran.err) == (0, "")
        screens[columns] = ran.out
        snapshot(f"catalog-import/dry-run-{columns}", steady(ran.out, own))
    before = read_book(own)
    ran = cogtally("catalog", "import", "ash-2.toml")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == (
        "cogtally: the book has these otherwise: ash-4/wide; nothing was written; --dry-run "
        "shows what would change, --replace changes it\n"
    )
    assert read_book(own) == before
    ran = cogtally("catalog", "import", "ash-2.toml", "--replace")
    assert (ran.code, ran.err) == (0, "")
    assert "Sets: 1 the same and 1 changed, 2 in all.\n" in ran.out
    assert read_book(own) != before
    ran = cogtally("undo")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "Taken back: change 2, catalog import ash-2.toml (1 family or set).\n"
    assert read_book(own) == before


def test_dry_run_makes_no_book(cogtally, own):
    """A dry run without a book shows what would be new, and makes none."""
    ran = cogtally("catalog", "import", "more.toml", "--dry-run")
    assert ran.code == 0
    assert ran.out.startswith("Families: 1 new.\nSets: 3 new.\nash-4/wide: new\n  input 17/28,")
    assert ran.out.endswith("Nothing was written.\n")
    assert not own.parent.exists()


def test_ten_are_shown(cogtally, own):
    """A dry run shows ten sets and counts the others."""
    Path("many.toml").write_text(toml_of(many_families(2, 15)), encoding="utf-8")
    ran = cogtally("catalog", "import", "many.toml", "--dry-run")
    assert ran.out.count(": new\n") == 10
    assert "… and 20 more.\nNothing was written.\n" in ran.out


def test_log(cogtally, own, snapshot):
    """The log tells what was changed and what was taken back; one entry, from what to what."""
    for words in (
        ["import", "ash.toml"],
        ["import", "more.toml"],
        ["import", "ash-2.toml", "--replace"],
    ):
        assert cogtally("catalog", *words).code == 0
    assert cogtally("undo").code == 0
    for columns in (60, 100):
        every = cogtally("log", columns=columns).out
        snapshot(f"catalog-log/all-{columns}", steady(every, own))
        one = cogtally("log", "3", columns=columns).out
        snapshot(f"catalog-log/one-{columns}", steady(one, own))
    ran = cogtally("undo")
    assert "Taken back: change 2, catalog import more.toml (1 family or set)." in ran.out
    cogtally("undo")
    ran = cogtally("undo")
    assert (ran.code, ran.out, ran.err) == (2, "", f"cogtally: {own}: there is nothing to undo\n")


def test_json(cogtally, own):
    """--json has every difference, every entry and its changes."""
    cogtally("catalog", "import", "ash.toml")
    dry = json.loads(cogtally("catalog", "import", "ash-2.toml", "--dry-run", "--json").out)
    assert (dry["format"], dry["written"], dry["book"]) == (1, False, str(own))
    assert dry["sets"] == {"new": 0, "the_same": 1, "changed": 1}
    assert dry["differences"] == [
        {
            "family": "ash-4",
            "set": "wide",
            "status": "changed",
            "keys": {
                "pairs.1": {"before": "14/31", "after": "15/30"},
                "pairs.3": {"before": "24/21", "after": "23/22"},
            },
        }
    ]
    done = json.loads(cogtally("catalog", "import", "ash-2.toml", "--replace", "--json").out)
    assert (done["written"], done["differences"]) == (True, dry["differences"])
    log = json.loads(cogtally("log", "--json").out)
    assert [(e["id"], e["what"], e["rows"], e["undone_by"]) for e in log["log"]] == [
        (2, "catalog import ash-2.toml", 1, None),
        (1, "catalog import ash.toml", 3, None),
    ]
    one = json.loads(cogtally("log", "2", "--json").out)
    assert (one["entry"], one["differences"]) == (log["log"][0], dry["differences"])
    undone = json.loads(cogtally("undo", "--json").out)
    assert (undone["entry"]["id"], undone["differences"]) == (2, dry["differences"])


def test_export(cogtally, own):
    """An export can be imported, and exported again it is the same to the byte."""
    cogtally("catalog", "import", "more.toml")
    ran = cogtally("catalog", "export", "out")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "Wrote 1 family, 3 sets into 1 file: out\n"
    assert cogtally("catalog", "export", "out.csv").err == (
        "ash-4: CSV has no place for name; TOML keeps it.\n"
    )
    for file in ("out/ash-4.toml", "out.csv"):
        book = f"{Path(file).suffix}.db"
        again = f"again{Path(file).suffix}"
        assert cogtally("catalog", "import", file, "--catalog", book).code == 0
        assert cogtally("catalog", "export", again, "--catalog", book).code == 0
        assert Path(again).read_bytes() == Path(file).read_bytes()


def test_export_again(cogtally):
    """An export does not write over files, but with --force."""
    cogtally("catalog", "import", "ash.toml")
    cogtally("catalog", "export", "out")
    refused(
        cogtally("catalog", "export", "out"),
        "out/ash-4.toml: the file is there already; nothing was written; --force",
    )
    assert cogtally("catalog", "export", "out", "--force").code == 0


def test_export_makes_no_folder_of_a_name_of_a_file(cogtally):
    """A name that ends as another kind of file is refused; with / at its end it is a folder."""
    cogtally("catalog", "import", "ash.toml")
    ran = cogtally("catalog", "export", "ash.txt")
    assert (ran.code, ran.out, Path("ash.txt").exists()) == (2, "", False)
    assert "ash.txt: the end of the name does not say what to write; use .toml or .csv" in ran.err
    assert cogtally("catalog", "export", "ash.txt/").code == 0
    assert cogtally("catalog", "export", "ash.txt", "--force").code == 0
    assert Path("ash.txt/ash-4.toml").is_file()


def test_export_of_files(cogtally):
    """Any catalog can be exported: a CSV file made of a TOML file, without a book."""
    ran = cogtally("catalog", "export", "ash.csv", "--catalog", "ash.toml")
    assert ran.code == 0
    assert cogtally("catalog", "check", "ash.csv").code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["import"], "cogtally catalog import: PATH is missing; name TOML or CSV files"),
        (["import", "nowhere"], "nowhere: there is no such file or folder"),
        (["import", "ash.toml", "--catalog", "out"], "out: this is a folder, not a book"),
        (["import", "ash.toml", "--catalog", "a.csv"], "a.csv: this is a .csv file, not a book"),
        (["import", "ash.toml", "--catalog", ""], "the name of the catalog is empty"),
        (["import", "ash.toml", "--catalog", "a\0b"], "a path cannot hold a zero character"),
        (["import", "ash.toml", "--catalog", "noise"], "noise: this is no book that can be read"),
        (["import", "ash.toml", "--catalog", "new"], "new: the book is of version"),
        (["import", "ash.toml", "--catalog", "noise/a"], "noise/a: noise is a file, not a folder"),
        (["import", "mine.db"], "mine.db: this is no TOML or CSV catalog"),
        (["init", "--catalog", "noise"], "noise: there is a file already"),
        (["export"], "cogtally catalog export: PATH is missing"),
        (["export", "x", "--catalog", "noise"], "noise: this is no TOML or CSV catalog"),
        (["export", "x", "--catalog", "new"], "new: the book is of version"),
        (["export", "x", "--format", "pdf", "--catalog", "mine.db"], "pdf: no such format"),
        (["check", "new"], "new: the book is of version"),
    ],
)
def test_wrong_input(cogtally, words, said):
    """What cannot be done is one line and exit code 2, and leaves every file as it was."""
    import sqlite3
    from contextlib import closing

    Path("noise").write_text("noise\n" * 1000)
    Path("out").mkdir()
    cogtally("catalog", "import", "ash.toml", "--catalog", "mine.db")
    cogtally("catalog", "import", "ash.toml", "--catalog", "new")
    with closing(sqlite3.connect("new")) as later:
        later.execute(f"PRAGMA user_version = {STEPS[-1].version + 1}")
    before = {file: file.read_bytes() for file in Path().iterdir() if file.is_file()}
    ran = cogtally("catalog", *words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(said if said.startswith("cogtally ") else f"cogtally: {said}")
    assert ran.err.count("\n") == 1
    assert {file: file.read_bytes() for file in Path().iterdir() if file.is_file()} == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["log"], "You have no catalog yet"),
        (["undo"], "You have no catalog yet"),
        (
            ["log", "--catalog", "nowhere"],
            "nowhere: there is no such book; 'cogtally catalog init'",
        ),
        (["undo", "--catalog", "noise"], "noise: this is no book that can be read"),
        (["log", "x", "--catalog", "mine.db"], "x: this is no number of an entry"),
        (["log", "99", "--catalog", "mine.db"], "99: the log has no such entry"),
        (["undo", "x", "--catalog", "mine.db"], "x: this is no number of an entry"),
        (["undo", "99", "--catalog", "mine.db"], "99: the log has no such entry"),
        (["undo", "1", "2"], "got unexpected extra argument"),
        (["catalog", "undo"], "undo: there is no such command; write cogtally undo"),
        (["stock", "log", "3"], "log: there is no such command; write cogtally log"),
    ],
)
def test_wrong_log(cogtally, words, said):
    """An entry that is not there, or a book that is none, is one line and exit code 2."""
    Path("noise").write_text("noise\n" * 1000)
    cogtally("catalog", "import", "ash.toml", "--catalog", "mine.db")
    ran = cogtally(*words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"cogtally: {said}")
    assert ran.err.count("\n") == 1


def test_variable(cogtally, monkeypatch):
    """COGTALLY_CATALOG may name a book; where it names files, a change of the book is refused."""
    monkeypatch.setenv("COGTALLY_CATALOG", "mine.db")
    assert cogtally("catalog", "import", "ash.toml").code == 0
    assert Path("mine.db").exists()
    monkeypatch.setenv("COGTALLY_CATALOG", "ash.toml")
    said = "ash.toml: this is a .toml file, not a book; name a book with --catalog BOOK"
    refused(cogtally("catalog", "import", "ash.toml"), said)


def test_empty_variable(cogtally, own, monkeypatch):
    """An empty COGTALLY_CATALOG is none: the user's own book is used, to read and to write."""
    monkeypatch.setenv("COGTALLY_CATALOG", "")
    assert cogtally("catalog", "import", "ash.toml").code == 0
    assert own.exists()
    assert cogtally("catalog", "list").code == 0


def test_own_book(tmp_path):
    """The user's own book stands in the platform's data folder, which is made with it."""
    home = {"XDG_DATA_HOME": str(tmp_path / "xdg"), "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-m", "cogtally", "catalog", "import", "ash.toml"],
        env={**os.environ, **home},
        capture_output=True,
        text=True,
        check=True,
    )
    (made,) = (path for path in tmp_path.rglob("cogtally.db"))
    assert str(made) in done.stdout


def test_cold_read_is_light(cogtally):
    """Asking a book loads neither the library for writing it nor the readers of files."""
    cogtally("catalog", "import", "ash.toml", "--catalog", "mine.db")
    code = (
        "import sys; from cogtally.cli.known import asked_catalog; "
        "assert asked_catalog('mine.db', False).set_count == 2; "
        "print([m for m in ('sqlite_utils', 'tomllib', 'csv', 'rapidfuzz') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.fixture
def many(tmp_path) -> dict[str, str]:
    """A folder `many` of 60 files of 30 sets; the surroundings to import it in."""
    Path("many").mkdir()
    for family in many_families(60, 30):
        Path(f"many/{family.id}.toml").write_text(toml_of([family]), encoding="utf-8")
    return {**os.environ, "XDG_DATA_HOME": str(tmp_path / "xdg"), "TERM": "xterm"}


@pytest.mark.parametrize("columns", [60, 100])
def test_progress(many, columns):
    """On a terminal a bar on standard error tells how far the reading is, and goes away."""
    screen = Terminal("catalog", "import", "many", "--catalog", "a.db", columns=columns, env=many)
    screen.wait_for("Reading and checking")
    screen.wait_for("Written into a new book")
    assert screen.close() == 0


def test_stopped(many):
    """Ctrl-C ends an import with code 130; there is no book, and nothing beside it."""
    before = sorted(os.listdir())
    screen = Terminal("catalog", "import", "many", "--catalog", "a.db", env=many)
    screen.wait_for("Reading and checking")
    screen.press("\x03")
    assert screen.close() == 130
    assert "Written" not in screen.text
    assert sorted(os.listdir()) == before


def test_piped(cogtally_process, many):
    """Piped there is no bar; what is said stays out of standard output."""
    ran = cogtally_process("catalog", "import", "many", "--catalog", "a.db", "--json", env=many)
    assert (ran.code, json.loads(ran.out)["sets"]["new"]) == (0, 1800)
    assert "Reading" not in ran.err


@pytest.mark.long
def test_large(cogtally_process, tmp_path):
    """A folder of 2,000 files, 100,000 sets in all, is imported whole and read back."""
    Path("large").mkdir()
    for family in many_families(2000, 50):
        Path(f"large/{family.id}.toml").write_text(toml_of([family]), encoding="utf-8")
    ran = cogtally_process("catalog", "import", "large", "--catalog", "a.db")
    assert (ran.code, ran.out.splitlines()[:2]) == (
        0,
        ["Families: 2,000 new.", "Sets: 100,000 new."],
    )
    assert read_book(Path("a.db")).set_count == 100_000
