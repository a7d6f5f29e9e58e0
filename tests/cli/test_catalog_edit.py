"""`cogtally catalog edit`, with a small script for an editor."""

import json
import os
import shlex
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from cli.book_of import families_of, small_book
from cli.terminal import Terminal
from cogtally.catalog.words import read_words
from conftest import refused
from small_catalog import BIRCH, SMALL

#: Writes into the file what the test left beside it: one text for each time it is called.
EDITOR = """\
import os, pathlib, sys
here = pathlib.Path(__file__).parent
texts = sorted(here.glob("text-*"))
if texts:
    pathlib.Path(sys.argv[1]).write_bytes(texts[0].read_bytes())
    texts[0].unlink()
(here / "called").write_text(sys.argv[1])
sys.exit(int(os.environ.get("EDITOR_ENDS", "0")))
"""


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book of the small catalog, and an editor."""
    (tmp_path / "kept").mkdir()
    path = small_book(tmp_path / "kept")
    script = tmp_path / "editor.py"
    script.write_text(EDITOR, encoding="utf-8")
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    monkeypatch.setenv("VISUAL", shlex.join([sys.executable, str(script)]))
    return path


def types(book: Path, *texts: str | bytes) -> None:
    """Have the editor write these texts, one each time."""
    for number, text in enumerate(texts):
        data = text if isinstance(text, bytes) else text.encode("utf-8")
        (book.parents[1] / f"text-{number}").write_bytes(data)


def text_of(what: str, book: Path) -> str:
    """The text that the editor is given."""
    from cogtally.catalog.changes.keep import to_edit
    from cogtally.catalog.find import find_any

    return to_edit(*find_any(families_of(book), what)).text


def kept_files(book: Path) -> list[Path]:
    """The texts that were kept beside the book."""
    return sorted(book.parent.glob("edit-*.toml"))


def test_set(cogtally, book):
    """A changed set is written, shown before and after, and no file is left."""
    types(book, text_of("birch-4/sport", book).replace('"Sport"', '"Sports"'))
    ran = cogtally("catalog", "edit", "birch-4/sport")
    assert (ran.code, ran.err) == (0, "")
    assert "name: before Sport, after Sports" in ran.out
    assert families_of(book).by_id["birch-4"].sets[1].name == "Sports"
    assert kept_files(book) == []
    assert "catalog edit birch-4/sport" in cogtally("log").out


def test_family(cogtally, book):
    """A changed family is written: a set taken out, one with another id, a note."""
    text = text_of("birch-4", book)
    text = text[: text.index('[[set]]\nid = "haul"')].replace('"sport"', '"sporting"')
    types(book, text.replace('direct = "4"', 'direct = "4"\nnote = "new"'))
    assert cogtally("catalog", "edit", "Birch four-speed").code == 0
    early, sport, _ = BIRCH.sets
    expected = replace(BIRCH, note="new", sets=(early, replace(sport, id="sporting")))
    assert families_of(book).by_id["birch-4"] == expected
    assert read_words(book).sets["birch-4"] == ("early", "sporting")


@pytest.mark.parametrize(("text", "code"), [(None, 0), ("# looked at\n{}", 0), ("", 2), (" \n", 2)])
def test_nothing_changed(cogtally, book, text, code):
    """A text left alone, with a comment more, or emptied, changes nothing."""
    if text is not None:
        types(book, text.format(text_of("birch-4", book)) if "{}" in text else text)
    ran = cogtally("catalog", "edit", "birch-4")
    assert (ran.code, ran.out) == (code, "" if code else "Nothing was changed.\n")
    assert code or kept_files(book) == []
    assert families_of(book).families == SMALL.families
    assert len(cogtally("log").out.splitlines()) == 1


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (("15/36", "3/36"), ":11: birch-4/early, pairs.1: '3' was read"),
        (("layout", "layuot"), "did you mean layout?"),
        (("[family]", "[family"), "no TOML"),
        (('id = "sport"', 'id = "early"'), "used twice"),
    ],
)
def test_wrong(cogtally, book, wrong, said):
    """A text that breaks a rule is not written; it stays in a file, which is named."""
    text = text_of("birch-4", book).replace(*wrong)
    types(book, text)
    ran = cogtally("catalog", "edit", "birch-4")
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    (kept,) = kept_files(book)
    assert kept.read_text(encoding="utf-8") == text
    assert f"the text is kept in {kept}" in ran.err
    assert families_of(book).families == SMALL.families


def test_not_utf8(cogtally, book):
    """Bytes that are no text are kept as they are."""
    types(book, b"[family]\nid = '\xff'\n")
    ran = cogtally("catalog", "edit", "birch-4")
    assert (ran.code, kept_files(book)[0].read_bytes()) == (2, b"[family]\nid = '\xff'\n")
    assert ":2: the file is not UTF-8" in ran.err


def test_taken_up_again(cogtally, book):
    """A text that was kept is taken up again with --from, once it is right."""
    text = text_of("birch-4/early", book).replace("15/36", "3/36")
    types(book, text)
    cogtally("catalog", "edit", "birch-4/early")
    (kept,) = kept_files(book)
    assert cogtally("catalog", "edit", "birch-4/early", "--from", str(kept)).code == 2
    kept.write_text(text.replace("3/36", "16/35"), encoding="utf-8")
    ran = cogtally("catalog", "edit", "birch-4/early", "--from", str(kept), "--json")
    assert json.loads(ran.out)["differences"][0]["keys"] == {
        "pairs.1": {"before": "15/36", "after": "16/35"}
    }
    assert families_of(book).by_id["birch-4"].sets[0].pairs["1"] == (16, 35)


def test_from_standard_input(cogtally_process, book):
    """The text may come down a pipe."""
    text = text_of("birch-4/early", book).replace('"Early"', '"Æarly"')
    ran = cogtally_process("catalog", "edit", "birch-4/early", "--from", "-", stdin=text)
    assert (ran.code, ran.err) == (0, "")
    assert families_of(book).by_id["birch-4"].sets[0].name == "Æarly"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "FAMILY[/SET] is missing"),
        (["brich-4"], "did you mean birch-4?"),
        (["birch-4/erly"], "did you mean early"),
        (["birch-4", "--from", "none.toml"], "no such file"),
        (["birch-4", "--from", ""], "the name of the file is empty"),
        (["birch-4", "--demo"], "cannot be written"),
    ],
)
def test_refused(cogtally, book, words, said):
    """What cannot be edited is said in one line, and no editor is opened."""
    refused(cogtally("catalog", "edit", *words), said)
    assert not (book.parents[1] / "called").exists()


@pytest.mark.parametrize(
    ("editor", "said"),
    [
        ("no-such-editor-here", "the editor cannot be started: no such file"),
        ("'", "its quotes do not match"),
    ],
)
def test_no_editor(cogtally, book, monkeypatch, editor, said):
    """An editor that is not there is said, and no file is left."""
    monkeypatch.setenv("VISUAL", editor)
    ran = cogtally("catalog", "edit", "birch-4")
    assert (ran.code, kept_files(book)) == (2, [])
    assert said in ran.err


def test_editor_fails(cogtally, book, monkeypatch):
    """Where the editor ends with an error nothing is written; what was typed is kept."""
    monkeypatch.setenv("EDITOR_ENDS", "3")
    types(book, text_of("birch-4", book).replace("Early", "Late"))
    ran = cogtally("catalog", "edit", "birch-4")
    assert ran.code == 2
    assert "the editor ended with an error (3)" in ran.err
    assert "Late" in kept_files(book)[0].read_text(encoding="utf-8")
    assert families_of(book).families == SMALL.families


def test_editor_of_the_two(cogtally, book, monkeypatch):
    """Without VISUAL it is EDITOR that is run."""
    monkeypatch.setenv("EDITOR", os.environ["VISUAL"])
    monkeypatch.delenv("VISUAL")
    assert cogtally("catalog", "edit", "birch-4").code == 0
    assert (book.parents[1] / "called").exists()


def test_no_editor_without_a_terminal(cogtally, book, monkeypatch):
    """Where none is set and no terminal is there, no usual editor is opened to wait for keys."""
    monkeypatch.delenv("VISUAL")
    monkeypatch.delenv("EDITOR", raising=False)
    ran = cogtally("catalog", "edit", "birch-4")
    assert ran.code == 2
    assert "there is no terminal to open one on; set EDITOR" in ran.err
    assert kept_files(book) == []


def test_changed_meanwhile(cogtally, book, tmp_path):
    """Where another changed the family meanwhile nothing is written over; the text is kept."""
    script = tmp_path / "editor.py"
    other = (
        "import subprocess\nsubprocess.run([sys.executable, '-m', 'cogtally', 'catalog', 'add', "
        "'birch-4/new', '--ratio', '1=3.15'], check=True)\n"
    )
    script.write_text(EDITOR.replace("(here /", f"{other}(here /"), encoding="utf-8")
    types(book, text_of("birch-4", book).replace("Early", "Later"))
    ran = cogtally("catalog", "edit", "birch-4")
    assert ran.code == 2
    assert "the book was changed meanwhile" in ran.err
    assert len(kept_files(book)) == 1
    assert families_of(book).by_id["birch-4"].sets[-1].id == "new"


def test_going_on(book, tmp_path):
    """On a terminal a text that is wrong can be edited on, as it stands, until it is right."""
    good = text_of("birch-4/early", book).replace('"Early"', '"Later"')
    types(book, good.replace("15/36", "3/36"), good)
    terminal = Terminal("catalog", "edit", "birch-4/early", columns=100, env={})
    terminal.wait_for("Go on editing? [Y/n]")
    terminal.type("")
    terminal.wait_for("Written into the book")
    assert terminal.close() == 0
    assert families_of(book).by_id["birch-4"].sets[0].name == "Later"
    assert kept_files(book) == []


@pytest.mark.parametrize("answer", ["n\n", "\x04", "\x03"])
def test_not_going_on(book, answer):
    """Whoever does not go on, with no, Ctrl-D or Ctrl-C, keeps the text in a file."""
    types(book, text_of("birch-4/early", book).replace("15/36", "3/36"))
    terminal = Terminal("catalog", "edit", "birch-4/early", columns=100, env={})
    terminal.wait_for("Go on editing? [Y/n]")
    if answer == "\x03":
        terminal.interrupt("the text is kept in")
    else:
        terminal.press(answer)
        terminal.wait_for("the text is kept in")
    assert terminal.close() == (130 if answer == "\x03" else 2)
    assert len(kept_files(book)) == 1
    assert families_of(book).families == SMALL.families
