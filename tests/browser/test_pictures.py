"""A picture as two other programs draw it: nothing cut, nothing moved.

`scripts/test --all` gets the browser; without one, or without the other engine, these tests say so.
"""

from __future__ import annotations

import io
import os
import subprocess
from pathlib import Path

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.evidence.reading import identify
from cogtally.gears.notation import parse_seen
from cogtally.show.drawing import Drawing, svg_text
from cogtally.show.drawing.files import png_bytes
from cogtally.show.sheet import family_sheet, sheet_drawing
from cogtally.show.train import answer_subject, train_drawing

DEMO = demo_catalog()
BOXES = {
    "mixed": ("input=17/28", "1=14/31", "2=19/26", "3=24/22x2"),
    "sliding": ("input=17/29", "1=16/30", "2=24/22", "R1=12/14", "R2=17/30"),
    "sheet": (),
}
DOTS, GRID = 100, 60

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(
        "COGTALLY_BROWSER" not in os.environ,
        reason="no browser: scripts/test --all gets one where it can",
    ),
]


def drawing(name: str) -> Drawing:
    if name == "sheet":
        return sheet_drawing(family_sheet(DEMO.by_id["alder-4"]))
    return train_drawing(answer_subject(identify(DEMO, parse_seen(BOXES[name]))))


def dark(png: bytes) -> list[float]:
    """How dark each field of a grid over a picture is, from 0 to 1."""
    from PIL import Image

    picture = Image.open(io.BytesIO(png)).convert("L")
    small = picture.resize((GRID, GRID), Image.Resampling.BOX)
    return [1 - int(value) / 255 for value in small.tobytes()]


def by_browser(svg: Path, drawn: Drawing) -> bytes:
    page = drawn.pages[0]
    wide, high = (round(side / 25.4 * DOTS) for side in (page.width, page.height))
    html, png = svg.with_suffix(".html"), svg.with_suffix(".png")
    html.write_text(f"<body style='margin:0'><img src={svg.name} width={wide} height={high}>")
    subprocess.run(
        [
            *(os.environ["COGTALLY_CHROMIUM"], "--headless", "--no-sandbox", "--disable-gpu"),
            *("--hide-scrollbars", f"--window-size={wide},{high}", f"--screenshot={png}"),
            html.as_uri(),
        ],
        capture_output=True,
        timeout=120,
        check=True,
    )
    return png.read_bytes()


@pytest.mark.parametrize("outlines", [False, True], ids=["text", "outlines"])
@pytest.mark.parametrize("name", list(BOXES))
def test_two_engines_agree(name: str, outlines: bool, tmp_path: Path) -> None:
    """Every field of the page is as dark in a browser and in another engine as in our own PNG."""
    resvg = pytest.importorskip("resvg_py")
    drawn = drawing(name)
    svg = tmp_path / "picture.svg"
    svg.write_text(svg_text(drawn, outlines=outlines), encoding="utf-8")
    own = dark(png_bytes(drawn, dots_per_inch=DOTS))
    others = {
        "browser": dark(by_browser(svg, drawn)),
        "resvg": dark(bytes(resvg.svg_to_bytes(svg_path=str(svg), dpi=DOTS))),
    }
    for engine, fields in others.items():
        differ = [abs(a - b) for a, b in zip(own, fields, strict=True)]
        # Text in another font is as dark elsewhere; outlines are the same everywhere.
        most, mean = (0.16, 0.012) if outlines else (0.65, 0.03)
        assert max(differ) < most, engine
        assert sum(differ) / len(differ) < mean, engine
