"""A page of a drawing as SVG: text stays text, as wide as it was measured in whatever font.

What is drawn is left to `drawing`.
"""

from __future__ import annotations

from xml.etree import ElementTree

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

#: The face that text was measured in, then what looks most like it.
FONTS = "FiraGO, 'Fira Sans', 'Noto Sans', 'DejaVu Sans', Arial, sans-serif"
_PLACES = 3


def svg_text(drawing: Drawing, page: int = 0, *, inline: bool = False) -> str:
    """Return one page as an SVG file; `inline`: as it stands inside HTML, as wide as there is room.

    Groups have their name as `data-name` and their words as a title.
    """
    sheet = drawing.pages[page]
    width, height = _number(sheet.width), _number(sheet.height)
    # As large as on paper where there is room, and no wider than a telephone.
    size = {
        "width": f"{width}mm",
        "height": f"{height}mm",
        "style": "max-width: 100%; height: auto",
    }
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
        _add(root, item)
    ElementTree.indent(root, " ")
    text = ElementTree.tostring(root, encoding="unicode")
    return text if inline else f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _add(parent: ElementTree.Element, item: Item) -> None:
    if isinstance(item, Group):
        group = ElementTree.SubElement(parent, "g", {"data-name": _readable(item.name)})
        if item.about:
            ElementTree.SubElement(group, "title").text = _readable(item.about)
        for inner in item.items:
            _add(group, inner)
    elif isinstance(item, Text):
        _add_text(parent, item)
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
    made = ElementTree.SubElement(
        parent,
        "text",
        {
            "x": _number(item.x),
            "y": _number(item.y),
            "font-size": _number(item.size),
            "fill": item.colour,
            "textLength": _number(text_width(item.text, item.size, item.bold)),
            "lengthAdjust": "spacingAndGlyphs",
        },
    )
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


def _number(value: float) -> str:
    text = f"{value:.{_PLACES}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _readable(text: str) -> str:
    """Return a text without the characters that XML cannot hold."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\N{WHITE SQUARE}" for c in text)
