"""The report as a real browser shows it: nothing amiss, nothing fetched, readable by everybody.

`scripts/test --all` gets the browser; without one these tests say so.
"""

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
CATALOG = HERE.parents[1] / "catalog"
FOUR = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
BOXES: dict[str, tuple[str, ...]] = {
    "matched": FOUR,
    "mixed": ("input=17/28", "1=14/31", "2=19/26", "3=24/22x2", "--mark", "laygear:LG 3?02"),
    "half-counted": FOUR[:2],
    "turned": ("1@4:1.1", "2@9:4"),
    "uncatalogued": ("input=23/44", "1=11/50"),
    "axle": ("final=9/44",),
}

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(
        "COGTALLY_BROWSER" not in os.environ,
        reason="no browser: scripts/test --all gets one where it can",
    ),
]


def opened(page: Path) -> dict[str, Any]:
    """What came of a page in the browser."""
    done = subprocess.run(
        [
            *("node", str(HERE / "look.mjs"), str(page)),
            *(os.environ["COGTALLY_BROWSER"], os.environ["COGTALLY_CHROMIUM"]),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture
def catalog(tmp_path) -> str:
    """A catalog of one's own with the families of the invented one."""
    shutil.copytree(CATALOG, tmp_path / "mine")
    return str(tmp_path / "mine")


@pytest.mark.parametrize("name", list(BOXES))
def test_report_in_a_browser(name, catalog, tmp_path, cogtally):
    """No error, no request, every wheel, accessible in every view, nothing too small or wide.

    At 390 and 1280 pixels, light and dark; on paper it is one sheet or two.
    """
    from pypdf import PdfReader

    page = tmp_path / f"{name}.html"
    ran = cogtally("identify", *BOXES[name], "--catalog", catalog, "--report", str(page))
    assert ran.code == 0, ran.err
    found = opened(page)
    assert found["console"] == []
    assert found["requests"] == []
    assert found["violations"] == []
    assert {"color-contrast", "html-has-lang", "document-title"} <= set(found["passed"])
    assert len(found["views"]) == 4
    for view in found["views"].values():
        assert view["sideways"] <= 0
        assert view["least"] >= 11.0 - 0.01
    for word in BOXES[name]:
        if "=" in word and "@" not in word:
            for count in word.partition("=")[2].split("/"):
                assert count.partition("x")[0] in found["text"], word
    assert 1 <= len(PdfReader(found["pdf"]).pages) <= 2


def test_a_planted_fault_is_found(tmp_path):
    """A page with pale words, no language and a picture from elsewhere does not pass."""
    page = tmp_path / "bad.html"
    page.write_text(
        "<html><head><title>x</title></head><body><p style='color:#ddd'>pale</p>"
        "<img src='other.png'></body></html>",
        encoding="utf-8",
    )
    found = opened(page)
    failed = {violation.partition(":")[0] for violation in found["violations"]}
    assert {"color-contrast", "html-has-lang", "image-alt"} <= failed
    assert found["requests"] != []
