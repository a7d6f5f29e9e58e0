"""`cogtally catalog check`, run as a person runs it."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from catalog.sound import SOUND, spoilt

ROOT = Path(__file__).parents[2]
WRONG = spoilt(
    SOUND,
    ("14/31", "3/31"),
    ("name = ", "nmae = "),
    ('source = "counted on the bench, one box"\n', ""),
)


@pytest.fixture
def file(tmp_path, monkeypatch) -> Callable[[str | bytes, str], str]:
    """Return a function that writes a file where the program is run, and gives its name."""
    monkeypatch.chdir(tmp_path)

    def write(text: str | bytes, name: str = "ash-4.toml") -> str:
        Path(name).write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return name

    return write


def test_nothing_wrong(cogtally, file):
    """A sound catalog is said to be so, with how much was read; the answer is yes."""
    ran = cogtally("catalog", "check", file(SOUND))
    assert (ran.code, ran.out, ran.err) == (0, "1 family, 2 sets: nothing is wrong.\n", "")
    ran = cogtally("catalog", "check", file(SOUND), "--json")
    assert (ran.code, json.loads(ran.out)["problems"]) == (0, [])


@pytest.mark.parametrize("columns", ["60", "100"])
def test_errors(cogtally_process, file, snapshot, columns):
    """Piped, errors and warnings are a line each however narrow, then a sum; the answer is no."""
    ran = cogtally_process("catalog", "check", file(WRONG), env={"COLUMNS": columns})
    assert (ran.code, ran.err) == (1, "")
    assert len(ran.out.splitlines()) == 4
    snapshot("catalog-check/piped", ran.out)


def test_warnings_alone(cogtally, file):
    """Warnings alone leave the answer yes."""
    ran = cogtally("catalog", "check", file(spoilt(SOUND, ('"14/31"', '"8/37"'))))
    assert ran.code == 0
    assert ran.out.endswith("1 family, 2 sets: no error and 1 warning.\n")


@pytest.mark.parametrize("columns", [60, 100])
def test_terminal(file, snapshot, columns):
    """On a terminal a long line goes on below, indented, and no line is wider than the screen."""
    import io

    from rich.console import Console

    from cogtally.catalog.files.reading import read_catalog
    from cogtally.show.screen import print_problems

    screen = Console(
        file=io.StringIO(), width=columns, force_terminal=True, color_system=None, markup=False
    )
    print_problems(screen, *read_catalog(file(WRONG)))
    text = screen.file.getvalue()
    assert max(map(len, text.splitlines())) <= columns
    snapshot(f"catalog-check/terminal-{columns}", "\n".join(map(str.rstrip, text.split("\n"))))


def test_json(cogtally, file):
    """--json has every problem with all that is known of it, and the same answer."""
    ran = cogtally("catalog", "check", "--json", file(WRONG))
    answer = json.loads(ran.out)
    assert ran.code == 1
    assert (answer["format"], answer["errors"], answer["warnings"]) == (1, 2, 1)
    assert answer["catalog"] == {"name": "ash-4.toml", "families": 1, "sets": 2, "demo": False}
    assert answer["problems"][0] == {
        "severity": "error",
        "code": "unknown-key",
        "file": "ash-4.toml",
        "line": 3,
        "column": None,
        "family": "ash-4",
        "set": "",
        "key": "nmae",
        "sentence": "there is no key 'nmae'",
        "mend": "did you mean name?",
    }


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "cogtally catalog check: PATH is missing; name a TOML or CSV file"),
        (["nowhere"], "cogtally: nowhere: there is no such file or folder; give a .toml"),
        (["."], "cogtally: .: no catalog is in this folder; it has no .toml and no .csv file"),
        (["a.txt"], "cogtally: a.txt: this is no TOML or CSV catalog; give a .toml or .csv file"),
        (["a.txt", "b.txt"], "cogtally: got unexpected extra argument"),
    ],
)
@pytest.mark.parametrize("option", [[], ["--json"]])
def test_not_read(cogtally, file, words, said, option):
    """A path that cannot be read is one line on standard error and exit code 2."""
    if "a.txt" in words:
        file("noise", "a.txt")
    ran = cogtally("catalog", "check", *words, *option)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(said)
    assert ran.err.count("\n") == 1


def test_markup(cogtally, file):
    """What looks like markup in a catalog is printed as it stands."""
    ran = cogtally("catalog", "check", file(spoilt(SOUND, ('"wide"', '"[/5th]"'))))
    assert "the id '[/5th]' was read" in ran.out
