"""The page as it is written: what stands in it, where it goes, and what it refuses."""

import json
import re
import struct
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.field import page_html, write_page
from field.page import MADE, tables
from small_catalog import SMALL

#: What somebody may write of a family to break a page.
HOSTILE = (
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "\u2028 ' \" ` ${1} {{script}} \\",
    "\U0001f527\ufe0f \u202edraw\u202c " + "\u05d0" * 200,
)


def hostile_catalog() -> Catalog:
    """A catalog with such names everywhere."""
    family = Family(
        "bad-4",
        "layshaft",
        HOSTILE[0],
        tuple(
            RatioSet(
                f"s{number}",
                text,
                {"input": (17, 28), "1": (14 + number, 31 - number)},
                marks={"laygear": (text, f"M {number}")},
            )
            for number, text in enumerate(HOSTILE)
        ),
        direct="2",
    )
    return Catalog((family,), HOSTILE[1])


def in_page(page: str) -> dict[str, Any]:
    """The tables as they stand in a page."""
    found = re.search(
        r'<script type="application/json" id="tables">(.*?)</script>', page, re.DOTALL
    )
    known: dict[str, Any] = json.loads(found[1])
    return known


@pytest.mark.parametrize("is_folder", [False, True])
def test_names_of_a_catalog_end_no_script(is_folder):
    """Whatever a catalog is called, the page has its own two scripts and the tables come back."""
    known = tables(hostile_catalog())
    page = page_html(known, is_folder=is_folder)
    assert len(re.findall(r"<script", page)) == page.count("</script>") == 2
    assert in_page(page) == known
    assert "\u2028" not in page
    assert "onerror" not in page.partition("<script")[0].replace("&lt;img src=x onerror", "")


def test_half_a_character_is_written_as_unknown():
    """A text with a lone surrogate, as a broken file may hold, does not stop the page."""
    known = tables(replace(SMALL, name="x\ud800y"))
    assert in_page(page_html(known))["catalog"]["name"] == "x?y"


@pytest.mark.parametrize("is_folder", [False, True])
def test_the_policy_allows_its_own_script_alone(is_folder):
    """Nothing may load from elsewhere; the hashes are those of the script and style inside."""
    page = page_html(tables(SMALL), is_folder=is_folder)
    found = re.search(r'Security-Policy" content="([^"]*)"', page)
    policy = unescape(found[1])
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy
    assert "http" not in policy.replace("http-equiv", "")
    assert re.search(r"""(src|href)=["']?(https?:)?//""", page) is None


def test_a_folder_has_what_can_be_installed(tmp_path):
    """Manifest, icons of their sizes, and a worker that has the fingerprint of every file."""
    write_page(tables(SMALL), tmp_path / "f", is_folder=True)
    manifest = json.loads((tmp_path / "f/manifest.webmanifest").read_text(encoding="utf-8"))
    assert manifest["display"] == "standalone"
    sizes = {icon["sizes"] for icon in manifest["icons"]}
    assert {"192x192", "512x512"} <= sizes
    assert "maskable" in {icon.get("purpose") for icon in manifest["icons"]}
    for icon in manifest["icons"]:
        data = (tmp_path / "f" / icon["src"]).read_bytes()
        assert data.startswith(b"\x89PNG")
        width, height = struct.unpack(">II", data[16:24])
        assert icon["sizes"] == f"{width}x{height}"
    worker = (tmp_path / "f/worker.js").read_text(encoding="utf-8")
    named = json.loads(re.search(r"FILES = (\{.*?\});", worker, re.DOTALL)[1])
    there = {path.name for path in (tmp_path / "f").iterdir()}
    assert there == {*named, "worker.js"}
    assert MADE.isoformat() in worker


def test_a_page_made_later_has_a_later_name(tmp_path):
    """The names by which workers keep their pages sort as the pages were made."""
    names = []
    for later in (timedelta(0), timedelta(seconds=1), timedelta(days=400)):
        known = tables(SMALL, made=MADE + later)
        write_page(known, tmp_path / "f", is_folder=True)
        worker = (tmp_path / "f/worker.js").read_text(encoding="utf-8")
        names.append(worker.partition('MADE = "')[2].partition('"')[0])
    assert names == sorted(names)
    assert len(set(names)) == 3


@pytest.mark.parametrize("out", ["field.html", "folder/"])
def test_what_is_there_is_not_written_over(out, tmp_path, cogtally, monkeypatch):
    """A second page in the same place needs --force."""
    monkeypatch.chdir(tmp_path)
    assert cogtally("field", "--demo", "--out", out).code == 0
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    ran = cogtally("field", "--demo", "--out", out)
    assert (ran.code, ran.out) == (2, "")
    assert "is there already; take another name, or write over it with --force" in ran.err
    assert {path: path.read_bytes() for path in before} == before
    assert cogtally("field", "--demo", "--out", out, "--force").code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "it is not said where to write the page"),
        (("--out", "field.pdf"), "the name does not end as a page's does"),
        (("--out", "nowhere/field.html"), "there is no folder nowhere"),
        (("--out", "field.html", "--family", "alderr-4"), "alder-4"),
        (("--out", "field.html", "--wanted"), "the stock stands in your own book"),
    ],
)
def test_a_wrong_request_is_one_line_and_writes_nothing(
    words, said, tmp_path, cogtally, monkeypatch
):
    """Exit code 2, a sentence with what to do, and no file."""
    monkeypatch.chdir(tmp_path)
    ran = cogtally("field", "--demo", *words)
    assert ran.code == 2
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_some_families_alone(tmp_path, cogtally):
    """With --family the page has those and says so; the fingerprint is the whole catalog's."""
    whole, some = tmp_path / "whole.html", tmp_path / "some.html"
    cogtally("field", "--demo", "--out", str(whole))
    ran = cogtally(
        "field", "--demo", "--family", "rowan-5", "--family", "Ald-4", "--out", str(some)
    )
    assert ran.code == 0
    all_of_it, found = (in_page(path.read_text(encoding="utf-8")) for path in (whole, some))
    assert [family["id"] for family in found["families"]] == ["rowan-5", "alder-4"]
    assert found["catalog"]["only"] == ["rowan-5", "alder-4"]
    assert all_of_it["catalog"]["only"] == []
    assert found["catalog"]["digest"] == all_of_it["catalog"]["digest"]


def test_the_key_is_that_of_the_command(cogtally):
    """Every step of a family's key on the page is that of `catalog apart`."""
    (family,) = [one for one in tables(demo_catalog())["families"] if one["id"] == "rowan-5"]
    ran = cogtally("catalog", "apart", "rowan-5", "--demo", "--json")
    (apart,) = json.loads(ran.out)["families"]
    names = [name for name, *_ in family["sets"]]
    told = [
        {
            "wheel": wheel,
            "branches": [
                {"teeth": teeth, "to": to if isinstance(to, int) else [names[s] for s in to]}
                for teeth, to in branches
            ],
        }
        for wheel, branches in family["key"]
    ]
    assert told == [
        {
            "wheel": node["wheel"],
            "branches": [
                {"teeth": b["teeth"], "to": b["sets"] if b["node"] is None else b["node"]}
                for b in node["branches"]
            ],
        }
        for node in apart["key"]["nodes"]
    ]
