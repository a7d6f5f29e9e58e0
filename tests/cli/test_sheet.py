"""`cogtally sheet` through the real entry point."""

import json
from pathlib import Path

import pypdfium2
import pytest

from cogtally.show.screen import CAUTION, DEMO_CAUTION


def text_of(path: Path) -> str:
    """The words of a PDF."""
    pages = pypdfium2.PdfDocument(str(path))
    return " ".join(w for p in pages for w in str(p.get_textpage().get_text_range()).split())


def test_a_family_by_its_alias(cogtally, tmp_path):
    """A sheet is one page with the family's name; the answer says where it is, with the caution."""
    path = tmp_path / "alder.pdf"
    ran = cogtally("sheet", "Ald-4", "--out", str(path), "--demo")
    assert (ran.code, ran.err) == (0, "")
    assert (
        ran.out == f"Wrote a sheet, Alder four-speed (alder-4): {path}\n{DEMO_CAUTION}\n{CAUTION}\n"
    )
    assert "Alder four-speed (alder-4)" in text_of(path)
    assert "cogtally identify --demo --family alder-4 input= / 1=" in text_of(path)


def test_a_blank(cogtally, tmp_path):
    """A blank needs no catalog and speaks of none."""
    path = tmp_path / "blank.pdf"
    ran = cogtally("sheet", "--blank", "two-shaft", "--gears", "5", "--out", str(path))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == f"Wrote a sheet, A two-shaft box of 5 gears: {path}\n{CAUTION}\n"
    assert "5= / R= / / final= /" in text_of(path)


def test_a_blank_of_an_overdrive(cogtally, tmp_path):
    """An overdrive has a blank too: sun and annulus, each a piece, and no turn tests."""
    path = tmp_path / "overdrive.pdf"
    ran = cogtally("sheet", "--blank", "overdrive", "--out", str(path), "--json")
    found = json.loads(ran.out)
    wheels = [(row["wheel"], row["piece"]) for row in found["wheels"]]
    assert wheels == [("OD.driver", "OD-sun"), ("OD.driven", "OD-annulus")]
    assert found["turns"] == []
    assert "cogtally identify OD= /" in text_of(path)


def test_letter_paper(cogtally, tmp_path):
    """--paper letter makes a page of that size, whatever the case it is written in."""
    path = tmp_path / "axle.pdf"
    cogtally("sheet", "--blank", "axle", "--paper", "Letter", "--out", str(path))
    page = pypdfium2.PdfDocument(str(path))[0]
    assert (page.get_width(), page.get_height()) == pytest.approx((8.5 * 72, 11 * 72), abs=0.1)


def test_json(cogtally, tmp_path):
    """--json says what was written and the order to count in."""
    path = tmp_path / "alder.svg"
    ran = cogtally("sheet", "alder-4", "--out", str(path), "--demo", "--json")
    found = json.loads(ran.out)
    assert (found["format"], found["sheet"], ran.err) == (1, str(path), "")
    assert [row["number"] for row in found["wheels"]] == list(range(1, 12))
    assert path.read_bytes().startswith(b"<?xml")


REFUSED = [
    (("alder-4", "--demo"), "--out is missing"),
    (("alder-4", "--demo", "--out", "a.doc"), "use .pdf or .svg or .png"),
    (("alder-4", "--demo", "--out", "nowhere/a.pdf"), "there is no folder nowhere"),
    (("alder-4", "--demo", "--out", "a.pdf", "--paper", "a3"), "use a4 or letter"),
    (("no-such", "--demo", "--out", "a.pdf"), "no-such"),
    (("--out", "a.pdf"), "name a family or a blank"),
    (("alder-4", "--demo", "--blank", "axle", "--out", "a.pdf"), "name a family or a blank"),
    (("alder-4", "--demo", "--gears", "5", "--out", "a.pdf"), "--gears goes with --blank"),
    (("--blank", "round", "--out", "a.pdf"), "there is no such blank"),
    (("--blank", "axle", "--gears", "4", "--out", "a.pdf"), "an axle has no gears"),
    (("--blank", "layshaft", "--gears", "x", "--out", "a.pdf"), "--gears x: this is no whole"),
    (("--blank", "overdrive", "--gears", "2", "--out", "a.pdf"), "no gears of its own"),
    (("--blank", "layshaft", "--gears", "40", "--out", "a.pdf"), "write 2 to 8"),
    (("--blank", "layshaft", "--demo", "--out", "a.pdf"), "a blank is of no catalog"),
]
