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


def test_errors(cogtally, file, snapshot):
    """Errors and warnings are one line each when piped, then a sum; the answer is no."""
    ran = cogtally("catalog", "check", file(WRONG))
    assert (ran.code, ran.err) == (1, "")
    assert len(ran.out.splitlines()) == 4
    snapshot("catalog-check/piped", ran.out)


def test_warnings_alone(cogtally, file):
    """Warnings alone leave the answer yes."""
    ran = cogtally("catalog", "check", file(spoilt(SOUND, ('"14/31"', '"8/37"'))))
    assert ran.code == 0
    assert ran.out.endswith("1 family, 2 sets: no error and 1 warning.\n")


def test_narrow_pipe(cogtally, file):
    """A pipe is not wrapped, however narrow the screen."""
    name = file(WRONG)
    assert (
        cogtally("catalog", "check", name, columns=60).out == cogtally("catalog", "check", name).out
    )


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


def test_json_of_a_sound_catalog(cogtally, file):
    """--json of a sound catalog has an empty list."""
    ran = cogtally("catalog", "check", file(SOUND), "--json")
    assert (ran.code, json.loads(ran.out)["problems"]) == (0, [])


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


@pytest.mark.parametrize("name", ["a.toml", "a.csv"])
def test_noise(cogtally, file, name):
    """Four million bytes of noise are one problem."""
    ran = cogtally("catalog", "check", file(bytes(range(256)) * 16_000, name))
    assert ran.code == 1
    assert ran.out.splitlines() == [
        f"{name}:2: error: the file is not UTF-8; save it as text in UTF-8  (not-utf8)",
        "0 families, 0 sets: 1 error.",
    ]


def test_markup(cogtally, file):
    """What looks like markup in a catalog is printed as it stands."""
    ran = cogtally("catalog", "check", file(spoilt(SOUND, ('"wide"', '"[/5th]"'))))
    assert "the id '[/5th]' was read" in ran.out


def test_demo(cogtally):
    """The demo catalog has no error."""
    ran = cogtally("catalog", "check", str(ROOT / "catalog"))
    assert ran.code == 0
    assert ran.out.endswith("no error and 4 warnings.\n")


def test_process(cogtally_process, file):
    """The program as a process of its own says the same, and its exit code is the answer."""
    ran = cogtally_process("catalog", "check", file(WRONG))
    assert ran.code == 1
    assert ran.out.endswith("1 family, 2 sets: 2 errors and 1 warning.\n")
