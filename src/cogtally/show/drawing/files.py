"""A drawing written to a file, of the kind that the end of its name says; SVG is made here.

Text in SVG stays text, set so that it stands where it was measured in whatever font; or it is
outlines, which need none. PDF and PNG are left to `paper`.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from xml.etree import ElementTree

from cogtally.gears.errors import UserError
from cogtally.show.drawing.primitives import (
    Drawing,
    Ellipse,
    Group,
    Item,
    Line,
    Pen,
    Polyline,
    Text,
)
from cogtally.show.drawing.text import text_width
from cogtally.store import refuse_there, write_whole

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


def write_drawing(drawing: Drawing, path: Path, *, outlines: bool = False) -> None:
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
    drawing: Drawing, page: int = 0, *, inline: bool = False, outlines: bool = False
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


def _add(parent: ElementTree.Element, item: Item, outlines: bool) -> None:
    if isinstance(item, Group):
        group = ElementTree.SubElement(parent, "g", {"data-name": _readable(item.name)})
        if item.about:
            ElementTree.SubElement(group, "title").text = _readable(item.about)
        for inner in item.items:
            _add(group, inner, outlines)
    elif isinstance(item, Text):
        _add_outlines(parent, item) if outlines else _add_text(parent, item)
    elif isinstance(item, Line):
        (x1, y1), (x2, y2) = item.start, item.end
        _shape(parent, "line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2}, item.pen)
    elif isinstance(item, Polyline):
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in item.points)
        made = _shape(parent, "polygon" if item.closed else "polyline", {}, item.pen, item.fill)
        made.set("points", points)
    elif isinstance(item, Ellipse):
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
    pen: Pen | None,
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


def _add_text(parent: ElementTree.Element, item: Text) -> None:
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


def _add_outlines(parent: ElementTree.Element, item: Text) -> None:
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


def png_bytes(drawing: Drawing, page: int = 0, dots_per_inch: int = _DOTS_PER_INCH) -> bytes:
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
    return (
        data[:head]
        + struct.pack(">I", 9)
        + size
        + struct.pack(">I", zlib.crc32(size))
        + data[head:]
    )
