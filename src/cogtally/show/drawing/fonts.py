"""The fonts that drawings are set in, and a sheet of PDF paper that has them.

What is put on the paper is left to `pdf`, how it is measured to `text`.

One face, FiraGO, has Latin, Greek, Cyrillic, Georgian, Hebrew, Arabic, Devanagari and Thai; others
take the letters that it lacks: more Latin, Greek and Cyrillic, mathematics, symbols, and Chinese,
Japanese and Korean. No font here has Armenian, Ethiopic, Khmer, Lao, Burmese, Tibetan, Mongolian,
emoji, or the scripts of India other than Devanagari: a letter of these is drawn as an empty square.
All are under the SIL Open Font License.
"""

from __future__ import annotations

import atexit
import logging
import tempfile
from functools import cache
from importlib import resources
from pathlib import Path

from fpdf import FPDF
from fpdf.fonts import TTFFont

FACE = "FiraGO"
#: Stands for a letter that no font has, and for a character that is not for reading.
NO_LETTER = "\N{WHITE SQUARE}"

_KEYS = {"": "figo", "B": "figbo"}
#: Fonts that take the letters which the face lacks, in this order, by their keys.
_OTHERS = ("notos", "math", "symbol1", "symbol2")
_EAST_ASIAN = ("noto_cjk_sans_jp_regular", "NotoSansCJKjp-Regular.otf")
#: Not seen, but they shape the letters beside them.
_JOINERS = "\u200c\u200d"
#: "fi" stays two letters, so that a text can be found in a file.
_FEATURES = {"liga": False, "dlig": False}


class Paper(FPDF):
    """PDF pages in millimetres with the fonts of this house, and no margins.

    The fonts for rare letters are opened when the first such letter comes.
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
        self._has_others = False

    def drawable(self, text: str) -> str:
        """Return a text as it can be drawn: an empty square for what no font here has."""
        if self._has(FACE, text):
            return text
        if not self._has_others:
            self._add_others()
        known = [FACE, *_OTHERS, _EAST_ASIAN[0]]
        return "".join(c if any(self._has(font, c) for font in known) else NO_LETTER for c in text)

    def _has(self, font: str, text: str) -> bool:
        found = self.fonts[font.lower()]
        assert isinstance(found, TTFFont)
        return all(ord(c) in found.cmap and (c.isprintable() or c in _JOINERS) for c in text)

    def _add_others(self) -> None:
        for key in _OTHERS:
            self.add_font(key, "", _font_file(key))
        module, file = _EAST_ASIAN
        self.add_font(module, "", str(resources.files(module) / file))
        self.set_fallback_fonts([*_OTHERS, module], exact_match=False)
        self._has_others = True


@cache
def _font_file(key: str) -> str:
    """Return a file with a font; the package that carries it keeps it as bytes."""
    import pymupdf_fonts  # type: ignore[import-untyped]

    path = _font_folder() / f"{key}.ttf"
    path.write_bytes(pymupdf_fonts.myfont(key))
    return str(path)


@cache
def _font_folder() -> Path:
    folder = tempfile.TemporaryDirectory(prefix="cogtally-fonts-")
    atexit.register(folder.cleanup)
    return Path(folder.name)
