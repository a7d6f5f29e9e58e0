"""Drawings: shapes and text in millimetres on pages, how much room a text takes, files of them.

It knows nothing of gears; what is drawn is told by the rooms that draw. PDF and the fonts in it
are in `paper`, which loads much and is opened by those who need it.
"""

from cogtally.show.drawing.files import (
    ASCENT as ASCENT,
    DESCENT as DESCENT,
    LEADING as LEADING,
    PDF as PDF,
    PICTURES as PICTURES,
    PNG as PNG,
    SVG as SVG,
    asked_file as asked_file,
    extent as extent,
    extent_of as extent_of,
    lines_height as lines_height,
    paragraph as paragraph,
    svg_text as svg_text,
    text_box as text_box,
    text_width as text_width,
    wrapped_to as wrapped_to,
    write_drawing as write_drawing,
)
from cogtally.show.drawing.paper import missing_letters as missing_letters, pdf_bytes as pdf_bytes
from cogtally.show.drawing.primitives import (
    GREY as GREY,
    INK as INK,
    PAGES as PAGES,
    PALE as PALE,
    POINT as POINT,
    WHITE as WHITE,
    Box as Box,
    Drawing as Drawing,
    Ellipse as Ellipse,
    Group as Group,
    Item as Item,
    Leaf as Leaf,
    Line as Line,
    Page as Page,
    Pen as Pen,
    Point as Point,
    Polyline as Polyline,
    Rectangle as Rectangle,
    Text as Text,
    hatching as hatching,
    leaves as leaves,
    placed as placed,
)
