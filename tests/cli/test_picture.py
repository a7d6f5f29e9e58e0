"""`--picture` and `--gear` through the real entry point."""

import json
import shutil
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pypdfium2
import pytest

WIDE = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
COMMANDS = {
    "ratios": ("ratios", *WIDE, "--direct", "4", "--axle", "9/41"),
    "turning": ("turning", *WIDE, "--direct", "4"),
    "identify": ("identify", "--demo", *WIDE),
}
CATALOG = Path(__file__).parents[2] / "catalog"
BEGINS = {".svg": b"<?xml", ".png": b"\x89PNG", ".pdf": b"%PDF"}


def texts(path: Path) -> list[str]:
    """Every text in an SVG."""
    root = ElementTree.parse(path).getroot()
    return [e.text or "" for e in root.iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("ending", BEGINS)
def test_each_command_draws_each_kind(command, ending, cogtally, tmp_path):
    """The file is of its kind, the answer is printed as without it, a note says where it is."""
    path = tmp_path / f"train{ending}"
    plain = cogtally(*COMMANDS[command])
    drawn = cogtally(*COMMANDS[command], "--picture", str(path))
    assert (drawn.code, drawn.out) == (plain.code, plain.out)
    assert drawn.err.removeprefix(plain.err) or drawn.err != plain.err
    assert f"Drew the train: {path}\n" in drawn.err
    assert path.read_bytes().startswith(BEGINS[ending])


@pytest.mark.parametrize("command", COMMANDS)
def test_the_gear_is_named_in_the_picture(command, cogtally, tmp_path):
    """With --gear the title and the key name the gear that is under load."""
    path = tmp_path / "train.svg"
    assert cogtally(*COMMANDS[command], "--picture", str(path), "--gear", "3").code == 0
    found = texts(path)
    assert found[-1] or found
    assert any(text.endswith(": gear 3") for text in found)
    assert "under load in gear 3" in found


def test_json_goes_on_beside_the_picture(cogtally, tmp_path):
    """--json prints JSON alone on standard output and draws too."""
    path = tmp_path / "train.svg"
    ran = cogtally(*COMMANDS["ratios"], "--picture", str(path), "--json")
    assert json.loads(ran.out)["format"] == 1
    assert path.exists()


def test_a_demo_answer_says_so_in_the_picture(cogtally, tmp_path):
    """A picture out of the invented catalog carries the words that it names no real box."""
    path = tmp_path / "train.svg"
    cogtally(*COMMANDS["identify"], "--picture", str(path))
    assert any("invented demo catalog" in text for text in texts(path))
    assert any(text.startswith("Right teeth do not prove") for text in texts(path))


FILES = {
    "picture": ("ratios", *WIDE, "--picture", "a.svg"),
    "report": ("identify", *WIDE, "--catalog", "mine", "--report", "a.html"),
    "sheet": ("sheet", "--demo", "alder-4", "--out", "a.svg"),
    "chart": (
        "road",
        *["3.65", "1", "--axle", "9/41", "--tyre", "1960mm", "--rpm", "4000", "--chart", "a.svg"],
    ),
    "key": ("catalog", "apart", "alder-4", "--demo", "--picture", "a.svg"),
}


@pytest.mark.parametrize("kind", list(FILES))
def test_what_was_there_is_kept_unless_forced(kind, cogtally, tmp_path, monkeypatch):
    """A file that stands there is written over with --force alone; nothing is answered without."""
    shutil.copytree(CATALOG, tmp_path / "mine")
    monkeypatch.chdir(tmp_path)
    old = tmp_path / FILES[kind][-1]
    old.write_text("old")
    ran = cogtally(*FILES[kind])
    assert (ran.code, ran.out, old.read_text()) == (2, "", "old")
    assert "the file is there already" in ran.err
    assert "--force" in ran.err
    assert cogtally(*FILES[kind], "--force").code == 0
    assert "<" in old.read_text(encoding="utf-8")


def test_letters_as_outlines(cogtally, tmp_path):
    """With --outlines an SVG has no text that a font could change, and says all the same words."""
    path = tmp_path / "train.svg"
    assert cogtally(*COMMANDS["ratios"], "--picture", str(path), "--outlines").code == 0
    root = ElementTree.parse(path).getroot()
    names = [element.tag.rpartition("}")[2] for element in root.iter()]
    assert "text" not in names
    assert names.count("path") > 50
    titles = [e.text for e in root.iter("{http://www.w3.org/2000/svg}title")]
    assert "fixed on its shaft" in titles


REFUSED = [
    (("--picture", "train.jpg"), "use .svg or .png or .pdf"),
    (("--picture", "no-such-folder/train.svg"), "there is no folder no-such-folder"),
    (("--picture", "."), "the end of the name does not say what to write"),
    (("--gear", "3"), "--gear goes with --picture"),
    (("--picture", "train.svg", "--gear", "9"), "no such gear is drawn"),
    (("--picture", "train.svg", "--gear", "3/4"), "3/4"),
]


def test_no_drawing_library_is_loaded_without_a_picture(cogtally_process):
    """An answer without a picture starts as fast as before."""
    code = (
        "import sys; from cogtally.cli.main import run; run(['ratios', '1=14/31']);"
        "print([m for m in ('uharfbuzz', 'resvg_py', 'jinja2') if m in sys.modules])"
    )
    import subprocess
    import sys

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_name_of_a_family_is_drawn_plain(cogtally, tmp_path):
    """A name that steers terminals or breaks lines is one clean line in titles, on paper too."""
    catalog = tmp_path / "odd.toml"
    catalog.write_text(
        '[family]\nid = "odd-4"\nname = "Odd\\u001b[31m\\u0000\\nfour"\nlayout = "two-shaft"\n'
        '[[set]]\nid = "a"\nsource = "s"\npairs = { 1 = "14/31", 2 = "19/26" }\n',
        encoding="utf-8",
    )
    title = "Odd\N{REPLACEMENT CHARACTER}[31m\N{REPLACEMENT CHARACTER} four"
    for name in ("train", "sheet"):
        for ending in (".svg", ".pdf"):
            out = str(tmp_path / f"{name}{ending}")
            words = {
                "train": ("identify", "1=14/31", "2=19/26", "--picture", out),
                "sheet": ("sheet", "odd-4", "--out", out),
            }
            assert cogtally(*words[name], "--catalog", str(catalog)).code == 0
        text = (tmp_path / f"{name}.svg").read_text(encoding="utf-8")
        assert title in text.partition("</title>")[0]
        assert all(c.isprintable() or c == "\n" for c in text)
        found = pypdfium2.PdfDocument(str(tmp_path / f"{name}.pdf")).get_metadata_dict()
        assert title in found["Title"]
        assert title in found["Subject"]
