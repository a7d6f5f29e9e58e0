"""Wrong input gets one plain line, or one for each problem: no traceback, no box, exit code 2."""

import random

import pytest

from conftest import Ran, refused

GOOD = "1=14/31"

#: Words after `identify --demo`, and what the line has to name; more stand beside the notation.
WORDS: list[tuple[tuple[str, ...], str]] = [
    (("a=b/c",), "character 3"),
    (("hello",), "hello"),
    (("",), "empty"),
    (("16/29",), "16/29"),
    (("a" * 5000,), "at most 20"),
    (("-3.65",), "-3.65"),
    (("--3",), "--3"),
    (("1=14/31\x1b[31m",), "1=14/31"),
    (("1=14/\udc9231",), "1=14/"),
    ((GOOD, "oops"), "oops"),
    (("28", "24"), "counts of a loose piece go to 'cogtally piece'"),
]

#: Whole command lines.
LINES: list[tuple[tuple[str, ...], str]] = [
    (("identify",), "nothing to go by"),
    (("identify", "--demo"), "nothing to go by"),
    (("identify", GOOD), "no catalog yet"),
    (("identify", "--demo", "--famly", "alder-4", GOOD), "--famly"),
    (("identify", "--demo", GOOD, "--family"), "--family"),
    (("identify", "--demo", "--family", "aldr-4", GOOD), "did you mean alder-4"),
    (("identify", "--demo", "--family", "", GOOD), "no family"),
    (("identify", "--demo", "--expect", "alder-4", GOOD), "alder-4/wide"),
    (("identify", "--demo", "--expect", "alder-4/wild", GOOD), "did you mean"),
    (("identify", "--demo", "--family", "rowan-5", "--expect", "alder-4/wide", GOOD), "rowan-5"),
    (("identify", "--demo", "--catalog", "x.toml", GOOD), "--demo"),
    (("identify", "--catalog", "no/such.toml", GOOD), "no/such.toml"),
    (("identify", "--catalog", "", GOOD), "empty"),
    (("identify", "--catalog", "a\0b", GOOD), "zero"),
    (("identfy", GOOD), "did you mean identify"),
    (("frobnicate",), "frobnicate"),
    (("catalog", "chek"), "chek: there is no such command; did you mean check?"),
    (("--frobnicate",), "--frobnicate"),
    (("stock", "list", "--place"), "'cogtally stock list --help' lists what can be written"),
    (("stock", "--place"), "'cogtally stock --help' lists what can be written"),
    (("identify", "--json=yes", GOOD), "--json"),
]


def check_line(ran: Ran, names: str) -> None:
    """Check one plain line that names what is wrong."""
    refused(ran, names)
    check_plain(ran.err.splitlines())


def check_plain(lines: list[str]) -> None:
    """Check that lines are for a person, and safe for a terminal."""
    for line in lines:
        assert line.startswith("cogtally: ")
        assert line.isprintable()
        assert "Traceback" not in line
        assert not any("\N{BOX DRAWINGS LIGHT HORIZONTAL}" <= c <= "╿" for c in line)


@pytest.mark.parametrize(("words", "names"), WORDS)
def test_a_wrong_word_gets_one_line(words, names, cogtally):
    """A word that cannot be read gets one line that names it or the character."""
    check_line(cogtally("identify", "--demo", *words), names)


@pytest.mark.parametrize(("words", "names"), LINES)
def test_a_wrong_command_line_gets_one_line(words, names, cogtally, monkeypatch, tmp_path):
    """A command line that cannot be followed gets one line that says what is wrong with it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    check_line(cogtally(*words), names)


@pytest.mark.parametrize("words", ["stock list", "log", "catalog edit birch-4"])
def test_a_missing_book_is_told_as_what_it_is(words, cogtally, monkeypatch, tmp_path):
    """A book that was named is "no such book"; --demo is offered only where it is taken."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    named = cogtally(*words.split(), "--catalog", str(tmp_path / "none.db"))
    own = cogtally(*words.split())
    assert (named.code, own.code) == (2, 2)
    assert "none.db: there is no such book" in named.err
    assert "You have no catalog yet" in own.err
    assert "--demo" not in named.err + own.err
    assert "try the invented one with --demo" in cogtally("catalog", "list").err


FAMILY = '[family]\nid = "birch-4"\nlayout = "layshaft"\ndirect = "4"\n'
SET = '[[set]]\nid = "early"\nsource = "x"\npairs = { input = "20/31", 1 = "15/36" }\n'

#: A catalog file by name, its bytes, and what the line has to name.
FILES: list[tuple[str, bytes, str]] = [
    ("latin.toml", (FAMILY + 'name = "B\xe4r"\n').encode("latin-1"), "UTF-8"),
    ("broken.toml", b"[family\nid = 3\n", "broken.toml"),
    ("misspelt.toml", (FAMILY + 'nmae = "Birch"\n' + SET).encode(), "nmae"),
    ("empty.toml", b"", "empty.toml"),
    ("wide.toml", (FAMILY + SET.replace('"20/31"', '"20/3100"')).encode(), "wide.toml"),
    (
        "date.csv",
        b"family,layout,direct,set,name,commonness,source,final.driver,final.driven\n"
        b"oak,axle,,low,,1,x,9-Apr,41\n",
        "9-Apr",
    ),
    ("noise.txt", b"not a catalog", "noise.txt"),
    ("noise.toml", random.Random(4).randbytes(4_000_000), "UTF-8"),
]


@pytest.mark.parametrize(("name", "data", "names"), FILES, ids=[f[0] for f in FILES])
def test_a_wrong_catalog_gets_a_line_for_each_problem(name, data, names, cogtally, tmp_path):
    """A catalog file that cannot be used gets a line for each problem, with the file in it."""
    file = tmp_path / name
    file.write_bytes(data)
    ran = cogtally("identify", "--catalog", str(file), GOOD)
    assert (ran.code, ran.out) == (2, "")
    lines = ran.err.splitlines()
    assert lines
    check_plain(lines)
    assert any(names in line for line in lines)
    assert all(name in line for line in lines)


def test_a_folder_without_catalogs_gets_one_line(cogtally, tmp_path):
    """A folder without any catalog in it is said to be so."""
    check_line(cogtally("identify", "--catalog", str(tmp_path), GOOD), "no catalog is in")


def test_debug_shows_where_an_error_arose(cogtally):
    """With --debug anywhere on the line the traceback comes before the line."""
    ran = cogtally("identify", "--demo", "oops", "--debug")
    assert ran.code == 2
    assert "Traceback" in ran.err
    assert ran.err.splitlines()[-1].startswith("cogtally: oops")


def test_ctrl_c_ends_with_130_and_no_word(cogtally, monkeypatch):
    """Ctrl-C ends the program quietly with exit code 130."""
    from cogtally.evidence import reading

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(reading, "identify", stopped)
    ran = cogtally("identify", "--demo", GOOD)
    assert (ran.code, ran.out, ran.err) == (130, "", "")


def test_the_process_itself_ends_with_code_2(cogtally_process):
    """Run as a process, a wrong word gives one line on standard error and exit code 2."""
    check_line(cogtally_process("identify", "--demo", "1=201/30"), "201/30")
