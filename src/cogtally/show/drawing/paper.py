"""A drawing as a PDF, its fonts within, a page of it as PNG, and the outlines of its letters.

What is drawn is left to `primitives`, how text is wrapped to `text`.

The face, Noto Sans (SIL Open Font License), has Latin, Greek and Cyrillic. For a letter that it
lacks the fonts of the machine are looked through; one that these lack too is drawn as an
empty box, and can be told of. Letters are put in their shapes and places by HarfBuzz, which makes
the small fonts that stand in a PDF too; the PDF is written as ISO 32000-1 has it (from memory).
A line runs from left to right; words written the other way are turned round within it.
"""

import os
import sys
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import groupby, islice
from pathlib import Path
from typing import Any

import uharfbuzz as hb  # type: ignore[import-untyped]

from cogtally.show.drawing import primitives
from cogtally.show.screen import plain

#: Stands for a letter that no font has, and for a character that is not for reading.
NO_LETTER = "\N{WHITE SQUARE}"
#: The weights of plain and bold letters in the face.
_PLAIN, _BOLD = 400, 700
#: Not seen, but they shape the letters beside them.
_JOINERS = "\u200c\u200d"
#: "fi" stays two letters, so that a text can be found in a file.
_FEATURES = {"liga": False, "dlig": False}
#: So many fonts of the machine are looked into at most, for letters that no font here has.
_MOST_FONTS = 400
#: How far the handles of four curves stand out that make a circle of half width 1.
_ROUND = 0.5523
#: Points of a millimetre.
_POINTS = 72 / 25.4


@dataclass(frozen=True)
class Face:
    """A font: its file, its number in that file, and the weight it is set in, 0 for its own."""

    file: str
    number: int = 0
    weight: int = 0


@dataclass(frozen=True, slots=True)
class Glyph:
    """A shape of a font, where it stands and how far it leads on, in ems; what it is read as."""

    face: Face
    number: int
    x: float
    y: float
    advance: float
    text: str


@cache
def _face_file() -> str:
    import fontpkg_noto_sans  # type: ignore[import-untyped]

    folder = Path(fontpkg_noto_sans.ROOT) / "files"
    return str(next(f for f in sorted(folder.glob("*.ttf")) if "Italic" not in f.name))


@cache
def _loaded(face: Face) -> Any:
    font = hb.Font(hb.Face(hb.Blob.from_file_path(face.file), face.number))
    if face.weight:
        font.set_variations({"wght": face.weight})
    return font


@cache
def _letters(face: Face) -> frozenset[int]:
    """Return the code points that a font has a shape for."""
    return frozenset(_loaded(face).face.unicodes)


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
def _machine_fonts() -> tuple[Face, ...]:
    """Return the fonts of the machine with outlines, plain upright ones first."""
    files = [
        file
        for folder in font_folders()
        for file in sorted(folder.rglob("*"))
        if file.suffix.lower() in (".ttf", ".otf", ".ttc")
    ]
    files.sort(key=lambda file: (not file.stem.lower().endswith(("regular", "sans")), file.stem))
    found = []
    for file in islice(files, _MOST_FONTS):
        face = Face(str(file))
        try:
            if {"glyf", "CFF "} & set(_loaded(face).face.table_tags):
                found.append(face)
        except (hb.HarfBuzzError, OSError, ValueError):
            continue
    return tuple(found)


@lru_cache(maxsize=10_000)
def _face_of(letter: str, bold: bool) -> Face | None:
    """Return the font that a letter is set in; None where no font has it."""
    own = Face(_face_file(), weight=_BOLD if bold else _PLAIN)
    if not (letter.isprintable() or letter in _JOINERS):
        return None
    if ord(letter) in _letters(own):
        return own
    return next((face for face in _machine_fonts() if ord(letter) in _letters(face)), None)


@lru_cache(maxsize=10_000)
def glyphs_of(text: str, bold: bool) -> tuple[Glyph, ...]:
    """Return a line of text as shapes from left to right."""
    found: list[Glyph] = []
    for words, is_left in _runs(text):
        own = _face_of("a", bold)
        parts: list[tuple[Face | None, str]] = []
        for letter in words:
            face = _face_of(letter, bold)
            if unicodedata.combining(letter) and parts and parts[-1][0] is not None:
                # A mark stands on its letter, in the same font where that has it.
                face = parts[-1][0] if ord(letter) in _letters(parts[-1][0]) else face
            if parts and (parts[-1][0] == face or (letter == " " and parts[-1][0])):
                parts[-1] = (parts[-1][0], parts[-1][1] + letter)
            else:
                parts.append((face, letter))
        for face, part in parts[::-1] if is_left else parts:
            assert own is not None
            found += _shaped(part, face, own, is_left)
    return tuple(found)


def _shaped(text: str, face: Face | None, own: Face, is_left: bool) -> Iterator[Glyph]:
    if face is None:
        # The first shape of every font is an empty box.
        wide = _loaded(own).get_glyph_h_advance(0) / _loaded(own).face.upem
        yield from (Glyph(own, 0, 0.0, 0.0, wide, NO_LETTER) for _ in text)
        return
    font = _loaded(face)
    em = font.face.upem
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if is_left else "ltr"
    hb.shape(font, buffer, _FEATURES)
    starts = sorted({info.cluster for info in buffer.glyph_infos})
    ends = dict(zip(starts, [*starts[1:], len(text)], strict=True))
    told: set[int] = set()
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        read = "" if info.cluster in told else text[info.cluster : ends[info.cluster]]
        told.add(info.cluster)
        x, y = place.x_offset / em, place.y_offset / em
        yield Glyph(face, info.codepoint, x, y, place.x_advance / em, read)


def _runs(text: str) -> Iterator[tuple[str, bool]]:
    """Yield the parts of a line from left to right, and whether each is written to the left.

    Words written to the left and what is between them are one stretch, its parts turned round; the
    figures in it run to the right.
    """
    kinds = map(unicodedata.bidirectional, text)
    #: 1 for a letter written to the right, -1 for one written to the left, 0 for others.
    ways = [{"L": 1, "R": -1, "AL": -1}.get(kind, 0) for kind in kinds]
    place = 0
    while place < len(text):
        if ways[place] != -1:
            end = next((n for n in range(place, len(text)) if ways[n] == -1), len(text))
            yield text[place:end], False
            place = end
            continue
        end = last = place
        while end < len(text) and ways[end] != 1:
            last = end if ways[end] == -1 else last
            end += 1
        stretch = [
            ("".join(letters), not figures)
            for figures, letters in groupby(text[place : last + 1], key=lambda c: c.isdecimal())
        ]
        yield from stretch[::-1]
        place = last + 1


def width_of(text: str, bold: bool) -> float:
    """Return how wide a line of text is, in ems."""
    return sum(glyph.advance for glyph in glyphs_of(text, bold))


def missing_letters(drawing: primitives.Drawing) -> str:
    """Return the letters of a drawing that no font here has, as they first stand in it."""
    texts = (
        i.text
        for page in drawing.pages
        for i in primitives.leaves(page.items)
        if isinstance(i, primitives.Text)
    )
    letters = dict.fromkeys(letter for text in texts for letter in text)
    return "".join(c for c in letters if c.isprintable() and _face_of(c, False) is None)


def outlines_of(text: str, bold: bool) -> list[tuple[str, float, float, float]]:
    """Return the letters of a text as paths of SVG, upward, each with its place and its scale.

    Places are in ems from the start of the baseline; the scale is of a path to one em.
    """
    found: list[tuple[str, float, float, float]] = []
    at = 0.0
    for glyph in glyphs_of(text, bold):
        path = _outline(glyph.face, glyph.number)
        if path:
            em = _loaded(glyph.face).face.upem
            found.append((path, at + glyph.x, glyph.y, 1.0 / em))
        at += glyph.advance
    return found


@lru_cache(maxsize=5_000)
def _outline(face: Face, number: int) -> str:
    parts: list[str] = []
    pen = hb.DrawFuncs()
    pen.set_move_to_func(lambda x, y, _: parts.append(f"M{x:g} {y:g}"))
    pen.set_line_to_func(lambda x, y, _: parts.append(f"L{x:g} {y:g}"))
    pen.set_quadratic_to_func(lambda a, b, x, y, _: parts.append(f"Q{a:g} {b:g} {x:g} {y:g}"))
    pen.set_cubic_to_func(
        lambda a, b, c, d, x, y, _: parts.append(f"C{a:g} {b:g} {c:g} {d:g} {x:g} {y:g}")
    )
    pen.set_close_path_func(lambda _: parts.append("Z"))
    _loaded(face).draw_glyph(number, pen, None)
    return "".join(parts)


def pdf_bytes(drawing: primitives.Drawing) -> bytes:
    """Return a PDF of all pages; the same drawing makes the same file, whenever it is made."""
    file = _File()
    fonts: dict[Face, _Used] = {}
    pages = []
    resources, tree = file.reserve(), file.reserve()
    for page in drawing.pages:
        content = file.add_stream(_content(page, fonts), "")
        box = f"[0 0 {_number(page.width * _POINTS)} {_number(page.height * _POINTS)}]"
        pages.append(
            file.add(
                f"<</Type/Page/Parent {tree} 0 R/MediaBox {box}/Resources {resources} 0 R"
                f"/Contents {content} 0 R>>"
            )
        )
    kids = " ".join(f"{number} 0 R" for number in pages)
    file.put(tree, f"<</Type/Pages/Kids[{kids}]/Count {len(pages)}>>")
    named = "".join(
        f"/F{used.number} {_embed(file, face, used)} 0 R" for face, used in fonts.items()
    )
    file.put(resources, f"<</Font<<{named}>>>>")
    root = file.add(f"<</Type/Catalog/Pages {tree} 0 R/Lang(en)>>")
    title, about = _string(plain(drawing.title)), _string(plain(drawing.about))
    info = file.add(f"<</Title{title}/Subject{about}/CreationDate(D:20000101000000Z)>>")
    return file.finished(root, info)


@dataclass
class _Used:
    """The shapes of one font that stand in a file, each with its width and what it is read as."""

    number: int
    shapes: dict[int, tuple[float, str]] = field(default_factory=dict)


class _File:
    """The numbered objects of a PDF."""

    def __init__(self) -> None:
        self._objects: list[bytes] = []

    def reserve(self) -> int:
        self._objects.append(b"")
        return len(self._objects)

    def put(self, number: int, body: str | bytes) -> int:
        self._objects[number - 1] = body.encode("latin-1") if isinstance(body, str) else body
        return number

    def add(self, body: str | bytes) -> int:
        return self.put(self.reserve(), body)

    def add_stream(self, data: bytes, keys: str) -> int:
        packed = zlib.compress(data, 9)
        head = f"<<{keys}/Filter/FlateDecode/Length {len(packed)}>>\nstream\n"
        return self.add(head.encode("latin-1") + packed + b"\nendstream")

    def finished(self, root: int, info: int) -> bytes:
        data = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        places = []
        for number, body in enumerate(self._objects, 1):
            places.append(len(data))
            data += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
        start, count = len(data), len(self._objects) + 1
        data += f"xref\n0 {count}\n0000000000 65535 f \n".encode()
        data += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
        data += f"trailer\n<</Size {count}/Root {root} 0 R/Info {info} 0 R>>\n".encode()
        return bytes(data + f"startxref\n{start}\n%%EOF\n".encode())


def _embed(file: _File, face: Face, used: _Used) -> int:
    """Write a font with the shapes that are used, and return its number."""
    font = _loaded(face)
    small = hb.SubsetInput()
    small.glyph_set.update(used.shapes)
    flags = hb.SubsetFlags
    small.flags = flags.RETAIN_GIDS | flags.NOTDEF_OUTLINE | flags.NO_LAYOUT_CLOSURE
    for axis in font.face.axis_infos:
        value = face.weight if axis.tag == "wght" and face.weight else axis.default_value
        small.pin_axis_location(font.face, axis.tag, value)
    data = small.subset(font.face).blob.data
    is_glyf = "glyf" in font.face.table_tags
    key = f"/Length1 {len(data)}" if is_glyf else "/Subtype/OpenType"
    program = file.add_stream(bytes(data), key)
    name = f"/AAAAA{chr(65 + used.number % 26)}+Cogtally{used.number}"
    kept = f"/FontFile{2 if is_glyf else 3} {program} 0 R"
    described = file.add(
        f"<</Type/FontDescriptor/FontName{name}/Flags 4/FontBBox[-500 -500 1500 1500]"
        f"/ItalicAngle 0/Ascent 1069/Descent -293/CapHeight 714/StemV 80{kept}>>"
    )
    widths = " ".join(f"{n}[{_number(1000 * w)}]" for n, (w, _) in sorted(used.shapes.items()))
    kind = "/CIDFontType2/CIDToGIDMap/Identity" if is_glyf else "/CIDFontType0"
    system = "<</Registry(Adobe)/Ordering(Identity)/Supplement 0>>"
    inner = file.add(
        f"<</Type/Font/Subtype{kind}/BaseFont{name}/CIDSystemInfo{system}"
        f"/FontDescriptor {described} 0 R/W[{widths}]>>"
    )
    read = file.add_stream(_readings(used).encode(), "")
    return file.add(
        f"<</Type/Font/Subtype/Type0/BaseFont{name}/Encoding/Identity-H"
        f"/DescendantFonts[{inner} 0 R]/ToUnicode {read} 0 R>>"
    )


def _readings(used: _Used) -> str:
    """Return what the shapes of a font are read as, so that a text can be found and copied."""
    lines = [
        f"<{number:04x}> <{text.encode('utf-16-be').hex()}>"
        for number, (_, text) in sorted(used.shapes.items())
        if text
    ]
    parts = [lines[n : n + 100] for n in range(0, len(lines), 100)]
    told = "\n".join(f"{len(p)} beginbfchar\n" + "\n".join(p) + "\nendbfchar" for p in parts)
    return (
        "/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n"
        "/CIDSystemInfo <</Registry(Adobe)/Ordering(UCS)/Supplement 0>> def\n"
        "/CMapName /Adobe-Identity-UCS def /CMapType 2 def\n"
        "1 begincodespacerange <0000> <ffff> endcodespacerange\n"
        f"{told}\nendcmap CMapName currentdict /CMap defineresource pop end end"
    )


def _content(page: primitives.Page, fonts: dict[Face, _Used]) -> bytes:
    """Return the strokes and letters of a page; millimetres downward, as the drawing has them."""
    scale = _number(_POINTS)
    lines = [f"{scale} 0 0 -{scale} 0 {_number(page.height * _POINTS)} cm"]
    for item in primitives.leaves(page.items):
        lines += _letters_of(item, fonts) if isinstance(item, primitives.Text) else _strokes(item)
    return "\n".join(lines).encode("latin-1")


def _strokes(item: primitives.Leaf) -> Iterator[str]:
    assert not isinstance(item, primitives.Text)
    fill = "" if isinstance(item, primitives.Line) else item.fill
    if item.pen is None and not fill:
        return
    pen = item.pen
    if pen is not None:
        dash = " ".join(map(_number, pen.dash)) if pen.dash else ""
        yield f"{_number(pen.width)} w {_colour(pen.colour)} RG [{dash}] 0 d"
    if fill:
        yield f"{_colour(fill)} rg"
    yield from _path(item)
    yield ("B" if fill else "S") if pen is not None else "f"


def _path(item: primitives.Leaf) -> Iterator[str]:
    if isinstance(item, primitives.Line | primitives.Polyline):
        points = (item.start, item.end) if isinstance(item, primitives.Line) else item.points
        for place, (x, y) in enumerate(points):
            yield f"{_number(x)} {_number(y)} {'l' if place else 'm'}"
        if isinstance(item, primitives.Polyline) and item.closed:
            yield "h"
    elif isinstance(item, primitives.Ellipse):
        left, top = item.x - item.across, item.y - item.down
        yield from _rounded(left, top, 2 * item.across, 2 * item.down, item.across, item.down)
    elif isinstance(item, primitives.Rectangle) and item.radius:
        where = item.x, item.y, item.width, item.height
        yield from _rounded(*where, item.radius, item.radius)
    elif isinstance(item, primitives.Rectangle):
        yield " ".join(map(_number, (item.x, item.y, item.width, item.height))) + " re"


def _rounded(x: float, y: float, wide: float, high: float, a: float, b: float) -> Iterator[str]:
    """Yield a rectangle with corners of half widths `a` and `b`; an ellipse where they meet."""
    right, foot, out, up = x + wide, y + high, a * (1 - _ROUND), b * (1 - _ROUND)

    def told(*values: float) -> str:
        return " ".join(map(_number, values))

    yield told(x + a, y) + " m"
    yield told(right - a, y) + " l"
    yield told(right - out, y, right, y + up, right, y + b) + " c"
    yield told(right, foot - b) + " l"
    yield told(right, foot - up, right - out, foot, right - a, foot) + " c"
    yield told(x + a, foot) + " l"
    yield told(x + out, foot, x, foot - up, x, foot - b) + " c"
    yield told(x, y + b) + " l"
    yield told(x, y + up, x + out, y, x + a, y) + " c h"


def _letters_of(item: primitives.Text, fonts: dict[Face, _Used]) -> Iterator[str]:
    glyphs = glyphs_of(item.text, item.bold)
    width = sum(glyph.advance for glyph in glyphs)
    at = -{"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    size = _number(item.size)
    yield f"BT {_colour(item.colour)} rg"
    for face, some in groupby(glyphs, key=lambda glyph: glyph.face):
        used = fonts.setdefault(face, _Used(len(fonts)))
        yield f"/F{used.number} {size} Tf"
        for glyph in some:
            kept = used.shapes.get(glyph.number)
            if kept is None or not kept[1]:
                font = _loaded(face)
                wide = font.get_glyph_h_advance(glyph.number) / font.face.upem
                used.shapes[glyph.number] = (wide, glyph.text)
            along, up = (at + glyph.x) * item.size, glyph.y * item.size
            if item.turned:
                place = f"0 -1 -1 0 {_number(item.x - up)} {_number(item.y - along)}"
            else:
                place = f"1 0 0 -1 {_number(item.x + along)} {_number(item.y - up)}"
            yield f"{place} Tm <{glyph.number:04x}> Tj"
            at += glyph.advance
    yield "ET"


def _colour(text: str) -> str:
    return " ".join(_number(int(text[n : n + 2], 16) / 255) for n in (1, 3, 5))


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".") or "0"


def _string(text: str) -> str:
    return f"<feff{text.encode('utf-16-be').hex()}>"
