"""A drawing written to a file, and how much room a text takes, wrapped or smaller until it fits.

The end of a file's name says of which kind it is; SVG is made here. Its text stays text, set so
that it stands where it was measured in whatever font; or it is outlines, which need none. PDF, PNG
and the fonts are left to `paper`. Nothing is ever cut.
"""

import struct
import unicodedata
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree

from cogtally.gears.errors import UserError
from cogtally.show.drawing import primitives
from cogtally.store import refuse_there, write_whole

#: How far letters reach above and below the baseline, and lines stand apart, in ems.
ASCENT, DESCENT, LEADING = 0.78, 0.24, 1.22
#: Words stay whole down to this size; where even that is too large they are broken.
LEAST_SIZE = 6 * primitives.POINT
_SMALLER = 0.96

Upright = Literal["top", "middle", "bottom"]


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide one line of text is, in millimetres, by the metrics of its font."""
    from cogtally.show.drawing.paper import width_of

    return width_of(text, bold) * size


def extent(item: primitives.Leaf) -> primitives.Box:
    """Return the rectangle that an item fills, half the width of its pen around it."""
    if isinstance(item, primitives.Text):
        width = text_width(item.text, item.size, item.bold)
        start = {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
        above, below = ASCENT * item.size, DESCENT * item.size
        if item.turned:
            low = item.y + start
            return primitives.Box(item.x - above, low - width, item.x + below, low)
        left = item.x - start
        return primitives.Box(left, item.y - above, left + width, item.y + below)
    edge = item.pen.width / 2 if item.pen else 0.0
    if isinstance(item, primitives.Rectangle):
        found = primitives.Box(item.x, item.y, item.x + item.width, item.y + item.height)
    elif isinstance(item, primitives.Ellipse):
        x, y = item.x, item.y
        found = primitives.Box(x - item.across, y - item.down, x + item.across, y + item.down)
    else:
        points = (item.start, item.end) if isinstance(item, primitives.Line) else item.points
        xs, ys = [x for x, _ in points], [y for _, y in points]
        found = primitives.Box(min(xs), min(ys), max(xs), max(ys))
    return primitives.Box(
        found.left - edge, found.top - edge, found.right + edge, found.bottom + edge
    )


def extent_of(items: Iterable[primitives.Item]) -> primitives.Box:
    """Return the rectangle that several items fill; at least one is needed."""
    boxes = [extent(item) for item in primitives.leaves(items)]
    return primitives.Box(
        min(b.left for b in boxes),
        min(b.top for b in boxes),
        max(b.right for b in boxes),
        max(b.bottom for b in boxes),
    )


def text_box(
    text: str,
    box: primitives.Box,
    size: float,
    *,
    anchor: primitives.Anchor = "start",
    upright: Upright = "top",
    bold: bool = False,
    colour: str = primitives.INK,
    most_lines: int | None = None,
) -> tuple[primitives.Text, ...]:
    """Return lines of text that stand inside a box: wrapped, and smaller where they have to be.

    `size` is the largest size. A line break in the text is kept. Nothing is cut: a text that is
    far too long comes out small, its words broken as a last resort.
    """
    whole = size
    while True:
        for broken in (False, True) if whole <= min(LEAST_SIZE, size) else (False,):
            lines = wrapped_to(text, box.width, whole, bold=bold, broken=broken)
            fits = most_lines is None or len(lines) <= most_lines
            wide = max(text_width(line, whole, bold) for line in lines)
            spare = box.height - lines_height(len(lines), whole)
            if fits and wide <= box.width and spare >= 0:
                middle = (box.left + box.right) / 2
                x = {"start": box.left, "middle": middle, "end": box.right}[anchor]
                top = box.top + {"top": 0.0, "middle": spare / 2, "bottom": spare}[upright]
                first = top + ASCENT * whole
                return tuple(
                    primitives.Text(
                        x, first + n * LEADING * whole, line, whole, anchor, bold, colour
                    )
                    for n, line in enumerate(lines)
                    if line
                )
        whole *= _SMALLER


def paragraph(
    text: str,
    left: float,
    right: float,
    top: float,
    size: float,
    *,
    bold: bool = False,
    colour: str = primitives.INK,
) -> tuple[tuple[primitives.Text, ...], float]:
    """Return a text as lines between two edges from `top` on, and where they end."""
    lines = wrapped_to(text, right - left, size, bold=bold, broken=True)
    found = tuple(
        primitives.Text(
            left, top + (ASCENT + n * LEADING) * size, line, size, bold=bold, colour=colour
        )
        for n, line in enumerate(lines)
    )
    return found, top + lines_height(len(lines), size)


def lines_height(count: int, size: float) -> float:
    """Return how high so many lines of text stand, from the top of the first to the last foot."""
    return (ASCENT + DESCENT + (count - 1) * LEADING) * size


def wrapped_to(
    text: str, width: float, size: float, *, bold: bool = False, broken: bool = False
) -> list[str]:
    """Return a text as lines of at most `width`; a word that is wider stands alone.

    `broken`: such a word is broken where it has to be.
    """
    found: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            parts = _parts(word, width, size, bold) if broken else [word]
            for place, part in enumerate(parts):
                together = f"{line} {part}" if line and not place else part
                if line and (place or text_width(together, size, bold) > width):
                    found.append(line)
                    line = part
                else:
                    line = together
        found.append(line)
    return found


def _parts(word: str, width: float, size: float, bold: bool) -> list[str]:
    """Break a word into parts that fit, no mark taken from its letter."""
    letters: list[str] = []
    for c in word:
        if letters and unicodedata.category(c).startswith("M"):
            letters[-1] += c
        else:
            letters.append(c)
    parts = [""]
    for letter in letters:
        if parts[-1] and text_width(parts[-1] + letter, size, bold) > width:
            parts.append("")
        parts[-1] += letter
    return parts


_DOTS_PER_INCH = 200
_MM_PER_METRE, _MM_PER_INCH = 1000, 25.4
SVG, PNG, PDF = ".svg", ".png", ".pdf"
PICTURES = (SVG, PNG, PDF)
#: The face that text was measured in, then what looks most like it.
FONTS = "'Noto Sans', 'Fira Sans', 'DejaVu Sans', Arial, sans-serif"
_PLACES = 3


def asked_file(
    name: str, option: str, endings: tuple[str, ...] = PICTURES, *, force: bool = True
) -> Path:
    """Return the file that an option names, before anything is worked out.

    Raises UserError for a name with another ending, a folder, a folder that is not there, and a
    file that is there already where `force` does not say that it may be written over.
    """
    place = f"{option} {name}"
    if "\0" in name or not name.strip():
        raise UserError("this is no name of a file", option, f"write {option} FILE{endings[0]}")
    path = Path(name)
    if path.suffix.lower() not in endings:
        kinds = " or ".join(endings)
        raise UserError("the end of the name does not say what to write", place, f"use {kinds}")
    if not path.parent.is_dir():
        raise UserError(f"there is no folder {path.parent}", place, "make it first")
    refuse_there([path], force)
    return path


def write_drawing(drawing: primitives.Drawing, path: Path, *, outlines: bool = False) -> None:
    """Write a drawing to a file, whole; `outlines`: the letters of an SVG are shapes.

    Raises UserError where the disk does not take it.
    """
    ending = path.suffix.lower()
    if ending == SVG:
        data = svg_text(drawing, outlines=outlines).encode("utf-8")
    else:
        from cogtally.show.drawing.paper import pdf_bytes

        data = png_bytes(drawing) if ending == PNG else pdf_bytes(drawing)
    write_whole({path: data})


def svg_text(
    drawing: primitives.Drawing, page: int = 0, *, inline: bool = False, outlines: bool = False
) -> str:
    """Return one page as an SVG file; `inline`: as it stands inside HTML, as wide as there is room.
    `outlines`: letters are shapes, so that no font is needed and none changes them.

    Groups have their name as `data-name` and their words as a title.
    """
    sheet = drawing.pages[page]
    width, height = _number(sheet.width), _number(sheet.height)
    # As large as on paper where there is room, and no wider than a telephone. A height beside the
    # width that a style takes back leaves an empty page in viewers that draw with Cairo.
    size = {"width": f"{width}mm", "height": f"{height}mm", "style": "max-width: 100%"}
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            **({} if inline else size),
            "viewBox": f"0 0 {width} {height}",
            "role": "img",
            "font-family": FONTS,
        },
    )
    if not inline:
        root.set("xml:lang", "en")
    ElementTree.SubElement(root, "title").text = _readable(drawing.title)
    if drawing.about:
        ElementTree.SubElement(root, "desc").text = _readable(drawing.about)
    if not inline:
        paper = {"width": width, "height": height, "fill": "#ffffff"}
        ElementTree.SubElement(root, "rect", paper)
    for item in sheet.items:
        _add(root, item, outlines)
    ElementTree.indent(root, " ")
    text = ElementTree.tostring(root, encoding="unicode")
    return text if inline else f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _add(parent: ElementTree.Element, item: primitives.Item, outlines: bool) -> None:
    if isinstance(item, primitives.Group):
        group = ElementTree.SubElement(parent, "g", {"data-name": _readable(item.name)})
        if item.about:
            ElementTree.SubElement(group, "title").text = _readable(item.about)
        for inner in item.items:
            _add(group, inner, outlines)
    elif isinstance(item, primitives.Text):
        _add_outlines(parent, item) if outlines else _add_text(parent, item)
    elif isinstance(item, primitives.Line):
        (x1, y1), (x2, y2) = item.start, item.end
        _shape(parent, "line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2}, item.pen)
    elif isinstance(item, primitives.Polyline):
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in item.points)
        made = _shape(parent, "polygon" if item.closed else "polyline", {}, item.pen, item.fill)
        made.set("points", points)
    elif isinstance(item, primitives.Ellipse):
        where = {"cx": item.x, "cy": item.y, "rx": item.across, "ry": item.down}
        _shape(parent, "ellipse", where, item.pen, item.fill)
    else:
        where = {"x": item.x, "y": item.y, "width": item.width, "height": item.height}
        where |= {"rx": item.radius} if item.radius else {}
        _shape(parent, "rect", where, item.pen, item.fill)


def _shape(
    parent: ElementTree.Element,
    kind: str,
    where: dict[str, float],
    pen: primitives.Pen | None,
    fill: str = "",
) -> ElementTree.Element:
    made = ElementTree.SubElement(parent, kind, {k: _number(v) for k, v in where.items()})
    if kind != "line":
        made.set("fill", fill or "none")
    if pen is not None:
        made.set("stroke", pen.colour)
        made.set("stroke-width", _number(pen.width))
        if pen.dash:
            made.set("stroke-dasharray", " ".join(map(_number, pen.dash)))
    return made


def _add_text(parent: ElementTree.Element, item: primitives.Text) -> None:
    """Add a text that starts where it was measured, whatever font it is set in.

    Counts and names of pairs stand in the middle of their wheels, so they are anchored there; a
    line that starts at an edge starts there, and may end a little earlier or later.
    """
    where = {
        "x": _number(item.x),
        "y": _number(item.y),
        "font-size": _number(item.size),
        "fill": item.colour,
    }
    made = ElementTree.SubElement(parent, "text", where)
    if item.anchor != "start":
        made.set("text-anchor", item.anchor)
    if item.bold:
        made.set("font-weight", "bold")
    if not item.text.isascii():
        # Writing from right to left is set by its first letter, as in the PDF.
        made.set("style", "unicode-bidi: plaintext")
    if item.turned:
        made.set("transform", f"rotate(-90 {_number(item.x)} {_number(item.y)})")
    made.text = _readable(item.text)


def _add_outlines(parent: ElementTree.Element, item: primitives.Text) -> None:
    """Add a text as the shapes of its letters; what it says is their title."""
    from cogtally.show.drawing.paper import outlines_of

    width = text_width(item.text, item.size, item.bold)
    start = item.x - {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    group = ElementTree.SubElement(parent, "g", {"fill": item.colour, "role": "img"})
    ElementTree.SubElement(group, "title").text = _readable(item.text)
    turn = f"rotate(-90 {_number(item.x)} {_number(item.y)}) " if item.turned else ""
    for shape, x, y, scale in outlines_of(item.text, item.bold):
        place = f"translate({_number(start + x * item.size)} {_number(item.y - y * item.size)})"
        size = f"scale({scale * item.size:.6f} {-scale * item.size:.6f})"
        ElementTree.SubElement(group, "path", {"transform": f"{turn}{place} {size}", "d": shape})


def _number(value: float) -> str:
    text = f"{value:.{_PLACES}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _readable(text: str) -> str:
    """Return a text without the characters that XML cannot hold."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\N{WHITE SQUARE}" for c in text)


def png_bytes(
    drawing: primitives.Drawing, page: int = 0, dots_per_inch: int = _DOTS_PER_INCH
) -> bytes:
    """Return one page as PNG."""
    import resvg_py

    sheet = drawing.pages[page]
    wide = round(sheet.width / _MM_PER_INCH * dots_per_inch)
    svg = svg_text(drawing, page, outlines=True, inline=True)
    data = bytes(resvg_py.svg_to_bytes(svg_string=svg, width=wide, background="#ffffff"))
    # Programs print it as large as it is: the size of a dot stands behind the head.
    dots = round(dots_per_inch / _MM_PER_INCH * _MM_PER_METRE)
    size = b"pHYs" + struct.pack(">IIB", dots, dots, 1)
    head = 8 + 25
    told = struct.pack(">I", 9) + size + struct.pack(">I", zlib.crc32(size))
    return data[:head] + told + data[head:]
