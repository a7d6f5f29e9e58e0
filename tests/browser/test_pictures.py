"""A picture as other programs draw it: nothing cut, nothing moved.

Cairo draws everywhere; `scripts/test --all` gets the browser, and without it those tests say so.
"""

import io
import os
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from cogtally.catalog.files.reading import demo_catalog
from cogtally.evidence.reading import identify
from cogtally.gears.notation import parse_seen
from cogtally.show.drawing import Box, Drawing, Text, extent, leaves, svg_text
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

#: How far the ink of a count may lie from where our own picture has it, in millimetres, and that of
#: words, whose letters are as wide as the font that is there.
MOVED, WORDS_MOVED = 0.4, 0.8


def drawing(name: str) -> Drawing:
    if name == "sheet":
        return sheet_drawing(family_sheet(DEMO.by_id["alder-4"]))
    return train_drawing(answer_subject(identify(DEMO, parse_seen(BOXES[name]))))


def grey(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("L")


def dark(picture: Image.Image) -> list[float]:
    """How dark each field of a grid over a picture is, from 0 to 1."""
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


def by_cairo(svg: str, drawn: Drawing, dots: int) -> bytes:
    try:
        from cairosvg import svg2png
    except OSError as error:
        pytest.skip(f"no Cairo on this machine: {error}")
    page = drawn.pages[0]
    wide, high = (round(side / 25.4 * dots) for side in (page.width, page.height))
    return bytes(svg2png(bytestring=svg.encode(), output_width=wide, output_height=high))


def ink(picture: Image.Image, box: Box, dots: int) -> tuple[float, float]:
    """How much of a box is dark, and where in millimetres the middle of that is from its left."""
    scale = dots / 25.4
    sides = [round(side * scale) for side in (box.left, box.top, box.right, box.bottom)]
    part = picture.crop((*sides[:2], *sides[2:]))
    columns = [
        255 - value for value in part.resize((part.width, 1), Image.Resampling.BOX).tobytes()
    ]
    whole = sum(columns) or 1
    middle = sum(place * value for place, value in enumerate(columns)) / whole
    return whole / (255 * len(columns)), middle / scale


BOTH = pytest.mark.parametrize("outlines", [False, True], ids=["text", "outlines"])


@pytest.mark.long
@pytest.mark.skipif(
    "COGTALLY_BROWSER" not in os.environ,
    reason="no browser: scripts/test --all gets one where it can",
)
@BOTH
@pytest.mark.parametrize("name", list(BOXES))
def test_two_engines_agree(name, outlines, tmp_path):
    """Every field of the page is as dark in a browser as in our own PNG."""
    drawn = drawing(name)
    svg = tmp_path / "picture.svg"
    svg.write_text(svg_text(drawn, outlines=outlines), encoding="utf-8")
    alike(grey(png_bytes(drawn, dots_per_inch=DOTS)), grey(by_browser(svg, drawn)), outlines)


def alike(own: Image.Image, other: Image.Image, outlines: bool) -> None:
    """Assert that two pictures are as dark in every field of the page."""
    differ = [abs(a - b) for a, b in zip(dark(own), dark(other), strict=True)]
    # Text in another font is as dark elsewhere; outlines are the same everywhere.
    most, mean = (0.16, 0.012) if outlines else (0.65, 0.03)
    assert max(differ) < most
    assert sum(differ) / len(differ) < mean


@BOTH
@pytest.mark.parametrize("name", list(BOXES))
def test_cairo_draws_the_same(name, outlines):
    """Cairo, an engine of its own, draws every field as dark and every word where our PNG has it.

    Words that are centred, counts above all, have their ink in the same middle; the verdict ends
    on the page.
    """
    pytest.importorskip("cairosvg")
    drawn, dots = drawing(name), 150
    svg = svg_text(drawn, outlines=outlines)
    own, other = grey(png_bytes(drawn, dots_per_inch=dots)), grey(by_cairo(svg, drawn, dots))
    alike(own, other, outlines)
    words = [item for item in leaves(drawn.pages[0].items) if isinstance(item, Text)]
    assert words
    for word in words:
        box = extent(word)
        (much, middle), (there, place) = ink(own, box, dots), ink(other, box, dots)
        assert there > 0.6 * much, word.text
        if word.anchor == "middle" and not word.turned:
            moved = MOVED if word.text.strip("()").isdigit() else WORDS_MOVED
            assert abs(middle - place) < moved, word.text
    page = drawn.pages[0]
    margin = Box(page.width - 1, 0, page.width, page.height)
    assert ink(other, margin, dots)[0] < 0.01
