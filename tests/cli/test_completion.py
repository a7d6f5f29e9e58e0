"""Completion in a shell: what is offered where, how fast, and that nothing ever goes wrong."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import pytest

from cli.book_of import small_book
from cogtally.catalog.book import read_book
from cogtally.catalog.book.reading import ROOM
from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.words import read_words, words_of, words_path, write_words
from cogtally.store import undo, writing as writing_in
from conftest import refused
from shelf.stocked import stocked_book
from small_catalog import BIRCH, SMALL, SORREL


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book of the small catalog with its words beside it."""
    path = small_book(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    assert write_words(path)
    return path


def offered(cogtally: Callable, line: str, shell: str = "zsh") -> list[str]:
    """What is offered at the end of a line."""
    ran = cogtally("completion", shell, f"--line={line}")
    assert (ran.code, ran.err) == (0, "")
    return ran.out.splitlines()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("cogtally catalog sh", ["show"]),
        ("cogtally catalog show b", ["birch-4", "birch-4/early", "birch-4/sport", "birch-4/haul"]),
        ("cogtally catalog show birch-4/s", ["birch-4/sport"]),
        ("cogtally catalog apart ", ["birch-4", "sorrel-axle", "twin-2"]),
        ("cogtally catalog add bi", ["birch-4/"]),
        ("cogtally catalog add --layout s", ["sleeve"]),
        ("cogtally catalog add birch-4/x --ratio 1", ["1="]),
        ("cogtally catalog add birch-4/x inp", ["input="]),
        ("cogtally identify --family t", ["twin-2"]),
        ("cogtally identify --family=t", ["--family=twin-2"]),
        ("cogtally identify --expect twin-2/p", ["twin-2/print"]),
        ("cogtally identify --keep-as s", ["sorrel-axle/"]),
        ("cogtally identify 1=14/31 --fam", ["--family"]),
        ("cogtally identify 1=14/31 R", ["R=", "R@"]),
        ("cogtally identify --family sorrel-axle ", ["final=", "final@"]),
        ("cogtally identify 1=", []),
        ("cogtally sheet ", ["birch-4", "sorrel-axle", "twin-2"]),
        ("cogtally sheet --blank two", ["two-shaft"]),
        ("cogtally completion z", ["zsh"]),
        ("cogtally sheet birch-4 ", []),
        ("cogtally nonsense ", []),
        ("cogtally catalog show 'b", []),
        ("", None),
        ("cogtally ", None),
    ],
)
def test_offers(cogtally, book, line, words):
    """Commands, options, families, sets, pairs and gears are offered where they belong."""
    if words is None:
        assert {"identify", "catalog"} <= set(offered(cogtally, line))
    else:
        assert offered(cogtally, line) == words


def test_items(cogtally, tmp_path, monkeypatch):
    """Where an item of the stock is meant its numbers are offered, the newest first."""
    path = stocked_book(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    for command in ("show", "edit", "sell", "recheck"):
        assert offered(cogtally, f"cogtally stock {command} ") == ["3", "2", "1"]
    assert offered(cogtally, "cogtally stock show 2") == []
    path.write_bytes(b"no book")
    assert offered(cogtally, "cogtally stock show ") == []


def test_hidden_options(cogtally, book):
    """Options that are hidden from help are not offered."""
    found = offered(cogtally, "cogtally catalog add --")
    assert "--source" in found
    assert "--demo" not in found


def test_words_of_every_writer(cogtally, tmp_path):
    """Every command that changes the book writes the words anew."""
    book, file = tmp_path / "new.db", tmp_path / "a.toml"
    here = ("--catalog", str(book))

    def is_fresh() -> bool:
        return words_path(book).exists() and read_words(book) == words_of(read_book(book))

    file.write_text(toml_of([BIRCH, SORREL]), encoding="utf-8")
    text = toml_of([BIRCH]).replace('"haul"', '"hauling"')
    edited = tmp_path / "b.toml"
    edited.write_text(text, encoding="utf-8")
    for words in (
        ["catalog", "init"],
        ["catalog", "import", str(file)],
        ["catalog", "add", "sorrel-axle/mid", "final=9/38"],
        ["catalog", "edit", "birch-4", "--from", str(edited)],
        ["identify", "final=10/39", "--keep-as", "sorrel-axle/own"],
        ["undo"],
    ):
        assert cogtally(*words, *here).code == 0
        assert is_fresh(), words
    assert set(read_words(book).sets["sorrel-axle"]) == {"low", "high", "mid"}


def test_old_words(cogtally, book):
    """Words of a book that was changed since are made anew, whoever changed it."""
    with writing_in(book, ROOM, "a change without words") as change:
        change.put(
            "families", {"id": "elm-4", "position": 9, "name": "", "layout": "axle", "note": ""}
        )
    assert read_words(book) == words_of(read_book(book))
    assert "elm-4" in offered(cogtally, "cogtally identify --family ")
    undo(book)
    assert read_words(book) == words_of(read_book(book))
    assert "elm-4" not in offered(cogtally, "cogtally identify --family ")


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"version": 1}', '{"version": 99}', "\x00", '{"version":1,"entry":0}'],
)
def test_spoilt_words(cogtally, book, text):
    """A word file that is spoilt is made anew: it offers the same as a sound one."""
    words_path(book).write_text(text, encoding="utf-8")
    assert offered(cogtally, "cogtally identify --family ") == list(words_of(read_book(book)).sets)


def test_spoilt_inside(cogtally, book):
    """Words that would steer the terminal, or are none, are not offered."""
    document = json.loads(words_path(book).read_bytes().partition(b"\n")[2])
    document["sets"] = {"a\x1b[2J": ["x"], "ok": [1, "y"]}
    data = json.dumps(document).encode()
    words_path(book).write_bytes(b"%08x\n%b" % (crc32(data), data))
    assert offered(cogtally, "cogtally catalog show ") == ["ok", "ok/y"]


def test_no_book(cogtally, tmp_path, monkeypatch):
    """Without a book, or with a catalog that is none, nothing is offered."""
    for path in (tmp_path / "none.db", tmp_path, tmp_path / "a.toml"):
        monkeypatch.setenv("COGTALLY_CATALOG", str(path))
        assert offered(cogtally, "cogtally catalog show ") == []


def test_folder_that_takes_no_words(book, cogtally):
    """Where the words cannot be written the command goes well all the same."""
    words_path(book).unlink()
    words_path(book).mkdir()
    ran = cogtally("catalog", "add", "sorrel-axle/mid", "final=9/38", "--source", "x")
    assert (ran.code, ran.err) == (0, "")
    assert not list(book.parent.glob(".own.db.words*"))


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_script(cogtally, book, shell):
    """A shell is given a script that says where to put it, and that the shell can read."""
    words_path(book).unlink()
    ran = cogtally("completion", shell)
    assert ran.code == 0
    assert ran.out.startswith(f"# cogtally: completion for {shell}. Put into ~/.")
    assert read_words(book).sets, "switching it on writes the words"
    if shutil.which(shell):
        done = subprocess.run([shell, "-n"], input=ran.out, text=True, capture_output=True)
        assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
@pytest.mark.parametrize(
    ("line", "parts", "replies"),
    [
        ("cogtally catalog show birch-4/s", ["show", "birch-4/s"], ["birch-4/sport"]),
        ("cogtally identify --family=s", ["identify", "--family", "=", "s"], ["sorrel-axle"]),
        ("cogtally identify fin", ["identify", "fin"], ["final=", "final@"]),
    ],
)
def test_in_bash(book, tmp_path, line, parts, replies):
    """In bash the script replaces the part of the line that bash gives it."""
    program = tmp_path / "cogtally"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m cogtally "$@"\n')
    program.chmod(0o755)
    words = " ".join(f"'{part}'" for part in parts)
    script = (
        f'eval "$(cogtally completion bash)"\nCOMP_LINE="{line}"\nCOMP_POINT=${{#COMP_LINE}}\n'
        f"COMP_WORDS=(cogtally {words})\nCOMP_CWORD={len(parts)}\n_cogtally\n"
        'printf "%s\\n" "${COMPREPLY[@]}"\n'
    )
    env = {**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "--norc", "-c", script], text=True, capture_output=True, env=env, check=False
    )
    assert done.stdout.splitlines() == replies


@pytest.mark.parametrize("words", [["completion"], ["completion", "tcsh"]])
def test_no_such_shell(cogtally, words):
    """A shell that is not known is said with those that are."""
    refused(cogtally(*words), "bash, zsh, fish")


def test_another_book(cogtally, book, tmp_path):
    """The words are those of the book that the line names, parted as a shell parts it."""
    other = tmp_path / "the other"
    other.mkdir()
    small_book(other)
    line = f"cogtally identify --catalog '{other / 'own.db'}' --family s"
    words_path(book).unlink()
    book.unlink()
    assert offered(cogtally, line) == ["sorrel-axle"]


@pytest.fixture
def files(tmp_path, monkeypatch) -> Path:
    """A folder of catalog files, which the program takes for the user's own catalog."""
    folder = tmp_path / "files"
    folder.mkdir()
    for family in SMALL.families:
        (folder / f"{family.id}.toml").write_text(toml_of([family]), encoding="utf-8")
    monkeypatch.setenv("COGTALLY_CATALOG", str(folder))
    return folder


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch) -> Path:
    """A folder of its own for what the program may lose at any time."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


def kept_words(cache: Path) -> list[Path]:
    """The files of words that are kept."""
    return list(cache.rglob("*.words"))


def test_files(cogtally, files, cache):
    """Families and sets of catalog files are offered, of a folder and of one file."""
    assert offered(cogtally, "cogtally identify --family ") == ["birch-4", "sorrel-axle", "twin-2"]
    assert len(kept_words(cache)) == 1
    one = f"cogtally catalog show --catalog {files / 'birch-4.toml'} b"
    assert offered(cogtally, one)[0] == "birch-4"
    assert offered(cogtally, f"cogtally identify --catalog {files} inp") == ["input="]


def test_changed_files(cogtally, files):
    """Words of files that were changed, added or taken away are made anew."""
    assert offered(cogtally, "cogtally catalog apart b") == ["birch-4"]
    text = (files / "birch-4.toml").read_text(encoding="utf-8")
    (files / "birch-4.toml").write_text(text.replace("birch-4", "beech-4"), encoding="utf-8")
    (files / "box.toml").write_text(text.replace("birch-4", "box-4"), encoding="utf-8")
    (files / "twin-2.toml").unlink()
    found = offered(cogtally, "cogtally catalog apart ")
    assert found == ["beech-4", "box-4", "sorrel-axle"]


@pytest.mark.parametrize("text", ["", "[]", '{"version": 1}', "\x00"])
def test_spoilt_words_of_files(cogtally, files, cache, text):
    """A spoilt file of words is made anew."""
    line = "cogtally catalog apart b"
    offered(cogtally, line)
    kept_words(cache)[0].write_text(text, encoding="utf-8")
    assert offered(cogtally, line) == ["birch-4"]


def test_bad_files(cogtally, files):
    """Files that cannot be read are no reason to complain; the others have their words."""
    (files / "a.toml").write_bytes(b"\xff[")
    assert offered(cogtally, "cogtally catalog apart b") == ["birch-4"]


def test_cache_that_takes_nothing(cogtally, files, cache):
    """Where words cannot be kept they are read each time."""
    cache.write_text("a file", encoding="utf-8")
    assert offered(cogtally, "cogtally catalog apart b") == ["birch-4"]


def test_large_files(cogtally, files, cache, monkeypatch):
    """Large files are not read at a key; a command that reads them keeps their words."""
    from cogtally.cli import known

    monkeypatch.setattr(known, "MOST_BYTES_AT_A_KEY", 10)
    monkeypatch.setattr(known, "MANY_SETS", 1)
    assert offered(cogtally, "cogtally catalog apart b") == []
    assert cogtally("catalog", "list").code == 0
    assert offered(cogtally, "cogtally catalog apart b") == ["birch-4"]


def test_switched_on(cogtally, files, cache):
    """Switching completion on keeps the words of catalog files."""
    assert cogtally("completion", "bash").code == 0
    assert len(kept_words(cache)) == 1
