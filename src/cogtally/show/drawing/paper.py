"""A drawing as a PDF, its fonts within, a page of it as PNG, and the outlines of its letters.

What is drawn is left to `primitives`, how text is measured and wrapped to `text`.

One face, FiraGO, has Latin, Greek, Cyrillic, Georgian, Hebrew, Arabic, Devanagari and Thai; others
of the same package, all under the SIL Open Font License, take more letters of these, mathematics
and symbols. For a letter that none of them has the fonts of the machine are looked through; one
that these lack too is drawn as an empty square, and can be told of.
"""

from __future__ import annotations

import atexit
import io
import logging
import os
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from itertools import groupby, islice
from pathlib import Path
from shutil import rmtree
from typing import Any

from fpdf import FPDF
from fpdf.enums import StrokeCapStyle
from fpdf.fonts import TTFFont

from cogtally.show.drawing.primitives import (
    Drawing,
    Ellipse,
    Leaf,
    Line,
    Pen,
    Polyline,
    Text,
    leaves,
)
from cogtally.show.drawing.text import text_width
from cogtally.show.screen import plain
from cogtally.store import is_running

FACE = "FiraGO"
#: Stands for a letter that no font has, and for a character that is not for reading.
NO_LETTER = "\N{WHITE SQUARE}"
#: The way in which cells of the library put text: the baseline so many ems below the middle.
_CELL_BASELINE = 0.3
_DOTS_PER_INCH = 200
#: The same drawing makes the same file, whenever it is made.
_MADE = datetime(2000, 1, 1, tzinfo=UTC)
_KEYS = {"": "figo", "B": "figbo"}
#: Fonts that take the letters which the face lacks, in this order, by their keys.
_OTHERS = ("notos", "math", "symbol1", "symbol2")
#: Not seen, but they shape the letters beside them.
_JOINERS = "\u200c\u200d"
#: "fi" stays two letters, so that a text can be found in a file.
_FEATURES = {"liga": False, "dlig": False}
#: So many fonts of the machine are looked into at most, for letters that no font here has.
_MOST_FONTS = 400


class Paper(FPDF):
    """PDF pages in millimetres with the fonts of this house, and no margins.

    The fonts for rare letters are opened when the first such letter comes; `missing` are those
    that no font has.
    """

    def __init__(self) -> None:
        super().__init__(unit="mm")
        # They speak of tables that no reader of a drawing misses.
        for noisy in ("fontTools", "fpdf"):
            logging.getLogger(noisy).setLevel(logging.CRITICAL)
        self.set_auto_page_break(False)
        self.set_margin(0)
        self.c_margin = 0
        for style, key in _KEYS.items():
            self.add_font(FACE, style, _font_file(key))
        self.set_text_shaping(True, features=_FEATURES)
        self.set_font(FACE)
        self.missing: set[str] = set()
        self._known = [FACE]

    def drawable(self, text: str) -> str:
        """Return a text as it can be drawn: an empty square for what no font has."""
        if self._has(FACE, text):
            return text
        if len(self._known) == 1:
            for key in _OTHERS:
                self._add(key, _font_file(key), 0)
        for letter in dict.fromkeys(text):
            if letter in self.missing or self.font_of(letter) is not None:
                continue
            found = _font_of_machine(letter) if _is_seen(letter) else None
            if found is None:
                self.missing.add(letter)
            else:
                self._add(f"own{len(self._known)}", *found)
        return "".join(NO_LETTER if c in self.missing else c for c in text)

    def font_of(self, letter: str) -> str | None:
        """Return the first font that has a letter."""
        return next((font for font in self._known if self._has(font, letter)), None)

    def _has(self, font: str, text: str) -> bool:
        found = self.fonts[font.lower()]
        assert isinstance(found, TTFFont)
        return all(ord(c) in found.cmap and _is_seen(c) for c in text)

    def _add(self, name: str, file: str, number: int) -> None:
        self.add_font(name, "", file, collection_font_number=number)
        self._known.append(name)
        self.set_fallback_fonts(self._known[1:], exact_match=False)


def _is_seen(letter: str) -> bool:
    return letter.isprintable() or letter in _JOINERS


def missing_letters(drawing: Drawing) -> str:
    """Return the letters of a drawing that no font here has, as they first stand in it."""
    paper = Paper()
    for page in drawing.pages:
        for item in leaves(page.items):
            if isinstance(item, Text):
                paper.drawable(item.text)
    return "".join(c for c in paper.missing if c.isprintable())


def font_folders() -> tuple[Path, ...]:
    """Return the folders in which machines of the usual kinds keep their fonts."""
    home = Path.home()
    if sys.platform == "win32":
        windows = Path(os.path.expandvars("%WINDIR%")) / "Fonts"
        return windows, home / "AppData/Local/Microsoft/Windows/Fonts"
    if sys.platform == "darwin":
        return Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"
    return Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".local/share/fonts"


@cache
def _font_of_machine(letter: str) -> tuple[str, int] | None:
    """Return a font of the machine that has a letter: its file, and its number in that file."""
    return next((font for font, letters in _machine_fonts() if ord(letter) in letters), None)


@cache
def _machine_fonts() -> tuple[tuple[tuple[str, int], frozenset[int]], ...]:
    """Return the fonts of the machine, plain upright ones first, with the letters of each."""
    found = [
        file
        for folder in font_folders()
        for file in sorted(folder.rglob("*"))
        if file.suffix.lower() in (".ttf", ".otf", ".ttc")
    ]
    found.sort(key=lambda file: (not file.stem.lower().endswith(("regular", "sans")), file.stem))
    return tuple(one for file in islice(found, _MOST_FONTS) for one in _letters_in(file))


def _letters_in(file: Path) -> Iterator[tuple[tuple[str, int], frozenset[int]]]:
    from fontTools.ttLib import TTFont, TTLibError  # type: ignore[import-untyped]

    try:
        font = TTFont(file, fontNumber=0, lazy=True)
        outlines = "glyf" in font or "CFF " in font
        letters = frozenset(font.getBestCmap() or ()) if outlines else frozenset[int]()
        font.close()
    except (TTLibError, OSError, ValueError, KeyError, AttributeError):
        return
    if letters:
        yield (str(file), 0), letters


@cache
def _font_file(key: str) -> str:
    """Return a file with a font; the package that carries it keeps it as bytes."""
    import pymupdf_fonts  # type: ignore[import-untyped]

    path = _font_folder() / f"{key}.ttf"
    path.write_bytes(pymupdf_fonts.myfont(key))
    return str(path)


_FOLDER = "cogtally-fonts-"


@cache
def _font_folder() -> Path:
    """A folder for this process; those of runs that were killed are taken away first."""
    for left in Path(tempfile.gettempdir()).glob(f"{_FOLDER}*"):
        process = left.name.removeprefix(_FOLDER).partition("-")[0]
        if process.isdigit() and not is_running(int(process)):
            rmtree(left, ignore_errors=True)
    folder = tempfile.mkdtemp(prefix=f"{_FOLDER}{os.getpid()}-")
    atexit.register(rmtree, folder, ignore_errors=True)
    return Path(folder)


def outlines_of(text: str, bold: bool) -> list[tuple[str, float, float, float]]:
    """Return the letters of a text as paths of SVG, upward, each with its place and its scale.

    Places are in ems from the start of the baseline; the scale is of a path to one em.
    """
    paper = _outline_paper()
    found: list[tuple[str, float, float, float]] = []
    at = 0.0
    for font, letters in groupby(paper.drawable(text), key=lambda c: paper.font_of(c) or FACE):
        name = f"{font.lower()}B" if bold and font == FACE else font.lower()
        face = paper.fonts[name]
        assert isinstance(face, TTFFont)
        for path, x, y, step, em in _shaped("".join(letters), face):
            if path:
                found.append((path, at + x / em, y / em, 1.0 / em))
            at += step / em
    return found


def _shaped(text: str, font: TTFFont) -> Iterator[tuple[str, float, float, float, float]]:
    import uharfbuzz  # type: ignore[import-untyped]
    from fontTools.pens.svgPathPen import SVGPathPen  # type: ignore[import-untyped]

    glyphs: Any = font.ttfont.getGlyphSet()
    shaper = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(font.ttffile))))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(shaper, buffer, _FEATURES)
    em = float(font.ttfont["head"].unitsPerEm)
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        pen = SVGPathPen(glyphs, ntos=lambda value: f"{value:g}")
        glyphs[font.ttfont.getGlyphName(info.codepoint)].draw(pen)
        path = pen.getCommands()
        yield path, place.x_offset, place.y_offset, place.x_advance, em


@cache
def _outline_paper() -> Paper:
    return Paper()


def pdf_bytes(drawing: Drawing) -> bytes:
    """Return a PDF of all pages."""
    paper = Paper()
    paper.set_title(plain(drawing.title))
    paper.set_subject(plain(drawing.about))
    paper.set_lang("en")
    paper.set_creation_date(_MADE)
    for page in drawing.pages:
        paper.add_page(format=(page.width, page.height))
        # With caps beyond its ends a short dash would close the gap before the next.
        with paper.local_context(stroke_cap_style=StrokeCapStyle.BUTT):
            for item in leaves(page.items):
                _draw(paper, item)
    return bytes(paper.output())


def png_bytes(drawing: Drawing, page: int = 0, dots_per_inch: int = _DOTS_PER_INCH) -> bytes:
    """Return one page as PNG."""
    import pypdfium2  # type: ignore[import-untyped]

    document = pypdfium2.PdfDocument(pdf_bytes(drawing))
    picture = document[page].render(scale=dots_per_inch / 72).to_pil()
    found = io.BytesIO()
    picture.save(found, "PNG", dpi=(dots_per_inch, dots_per_inch))
    document.close()
    return found.getvalue()


def _draw(paper: Paper, item: Leaf) -> None:
    if isinstance(item, Text):
        _write(paper, item)
        return
    style = _style(paper, item.pen, "" if isinstance(item, Line) else item.fill)
    if not style:
        return
    if isinstance(item, Line):
        paper.line(*item.start, *item.end)
    elif isinstance(item, Polyline):
        paper.polyline(list(item.points), polygon=item.closed, style=style)
    elif isinstance(item, Ellipse):
        x, y = item.x - item.across, item.y - item.down
        paper.ellipse(x, y, 2 * item.across, 2 * item.down, style=style)
    else:
        rounded = item.radius > 0
        paper.rect(
            item.x,
            item.y,
            item.width,
            item.height,
            style=style,
            round_corners=rounded,
            corner_radius=item.radius,
        )


def _style(paper: Paper, pen: Pen | None, fill: str) -> str:
    """Set pen and fill; D, F or DF, empty where there is nothing to be seen."""
    if pen is not None:
        paper.set_draw_color(pen.colour)
        paper.set_line_width(pen.width)
        paper.set_dash_pattern(*(pen.dash or (0, 0)))
    if fill:
        paper.set_fill_color(fill)
    return ("D" if pen is not None else "") + ("F" if fill else "")


def _write(paper: Paper, item: Text) -> None:
    text = paper.drawable(item.text)
    paper.set_font(style="B" if item.bold else "", size=item.size * paper.k)
    paper.set_text_color(item.colour)
    width = text_width(item.text, item.size, item.bold)
    start = item.x - {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    with paper.rotation(90 if item.turned else 0, item.x, item.y):
        paper.set_xy(start, item.y - _CELL_BASELINE * item.size)
        paper.cell(width, 0, text)
