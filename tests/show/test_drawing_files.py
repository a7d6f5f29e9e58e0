"""Drawings as files: PDF with its fonts within, PNG, and how they are written."""

import io
from pathlib import Path

import pypdfium2
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

from cogtally.gears.errors import UserError
from cogtally.show.drawing import (
    Drawing,
    Item,
    Line,
    Page,
    Pen,
    Rectangle,
    Text,
    extent,
    paper,
    write_drawing,
)
from cogtally.show.drawing.files import png_bytes
from cogtally.show.drawing.paper import pdf_bytes

#: A name in each script that a font of the package has.
NAMES = ("Alder, Érable, Łódź", "Ольха", "Κλήθρα", "½ ≤ 3")
#: Told from white paper in grey.
DARK = 160


def drawing(*items: Item) -> Drawing:
    """A page of 100 by 60 mm."""
    return Drawing((Page(100, 60, items),), "A drawing")


def text_of(data: bytes) -> str:
    """The text of the first page, as a reader of PDFs finds it."""
    return str(pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range())


@pytest.mark.parametrize("name", NAMES)
def test_names_in_any_script_are_in_the_pdf(name):
    """A name is drawn, and found again in the file, whatever its script."""
    assert name in text_of(pdf_bytes(drawing(Text(5, 10, name, 5))))


def test_the_fonts_are_in_the_file():
    """No reader needs a font of its own."""
    data = pdf_bytes(drawing(Text(5, 10, "Alder", 5), Text(5, 20, "Alder", 5, bold=True)))
    assert data.count(b"/FontFile") >= 2


def one_letter_font(letter: str, path: Path) -> None:
    """Write a font that has one letter, a square as high as its em."""
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder([".notdef", "one"])
    builder.setupCharacterMap({ord(letter): "one"})
    pen = TTGlyphPen(None)
    for point in ((0, 0), (0, 700), (700, 700), (700, 0)):
        (pen.lineTo if point != (0, 0) else pen.moveTo)(point)
    pen.closePath()
    builder.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "one": pen.glyph()})
    builder.setupHorizontalMetrics({".notdef": (800, 0), "one": (800, 0)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "One", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    builder.save(path)


def test_a_font_of_the_machine_takes_other_letters(tmp_path, monkeypatch):
    """A letter that no font of the package has is set in one of the machine's; none: told of."""

    def forget() -> None:
        for each in (paper._face_of, paper._machine_fonts, paper.glyphs_of):
            each.cache_clear()

    monkeypatch.setattr(paper, "font_folders", lambda: (tmp_path,))
    forget()
    page = drawing(Text(5, 10, "a\u8f2ab", 5))
    assert "a□b" in text_of(pdf_bytes(page))
    assert paper.missing_letters(page) == "\u8f2a"
    one_letter_font("\u8f2a", tmp_path / "one.ttf")
    (tmp_path / "broken.ttf").write_bytes(b"no font")
    forget()
    assert "a\u8f2ab" in text_of(pdf_bytes(page))
    assert paper.missing_letters(page) == ""
    forget()


def test_a_character_that_is_not_seen_is_a_square():
    """What cannot be read is drawn as an empty square and never left out."""
    assert "a□b" in text_of(pdf_bytes(drawing(Text(5, 10, "a\x07b", 5))))


def test_dashes_are_dashes_in_print():
    """Between the dashes of a line the paper is white, in the PNG too."""
    from PIL import Image

    line = Line((10, 30), (90, 30), Pen(1.0, dash=(1.6, 1.1)))
    picture = Image.open(io.BytesIO(png_bytes(drawing(line), dots_per_inch=300))).convert("L")
    row = [picture.getpixel((x, round(30 / 25.4 * 300))) for x in range(130, 1050)]
    assert 0.3 < sum(int(v) > 200 for v in row if isinstance(v, int)) / len(row) < 0.5


def test_text_in_a_pdf_is_as_wide_as_it_was_measured():
    """The PDF's own boxes of letters end where the measure says."""
    item = Text(50, 30, "input 17/28", 6, "middle")
    page = pypdfium2.PdfDocument(pdf_bytes(drawing(item)))[0].get_textpage()
    boxes = [page.get_charbox(n) for n in range(page.count_chars())]
    left, right = min(b[0] for b in boxes) * 25.4 / 72, max(b[2] for b in boxes) * 25.4 / 72
    found = extent(item)
    assert left == pytest.approx(found.left, abs=0.6)
    assert right == pytest.approx(found.right, abs=0.6)


def test_a_pdf_has_its_pages_in_millimetres():
    """Each page is as large as the drawing says."""
    pages = (Page(60, 30, ()), Page(210, 297, ()))
    document = pypdfium2.PdfDocument(pdf_bytes(Drawing(pages, "Two")))
    sizes = [(page.get_width() * 25.4 / 72, page.get_height() * 25.4 / 72) for page in document]
    assert sizes[0] == pytest.approx((60, 30), abs=0.01)
    assert sizes[1] == pytest.approx((210, 297), abs=0.01)


def test_the_same_drawing_makes_the_same_pdf():
    """A PDF has nothing of the time at which it was made."""
    one = drawing(Text(5, 10, "Ольха", 5), Rectangle(10, 20, 30, 10, fill="#d9d9d9", radius=2))
    assert pdf_bytes(one) == pdf_bytes(one)


def test_a_picture_shows_what_is_drawn_where():
    """In the PNG a filled rectangle is dark where it stands, and the paper white elsewhere."""
    from PIL import Image

    data = png_bytes(drawing(Rectangle(10, 20, 30, 10, None, "#000000")), dots_per_inch=254)
    picture = Image.open(io.BytesIO(data)).convert("L")
    assert picture.size == pytest.approx((1000, 600), abs=1)
    assert picture.getpixel((250, 250)) == 0
    assert picture.getpixel((250, 350)) == 255
    assert picture.getpixel((90, 250)) == 255


def test_strokes_are_dark_in_grey_print():
    """A line of the usual pen is seen in print without colour."""
    from PIL import Image

    data = png_bytes(drawing(Line((10, 30), (90, 30))), dots_per_inch=254)
    picture = Image.open(io.BytesIO(data)).convert("L")
    column = [picture.getpixel((500, y)) for y in range(290, 310)]
    assert min(int(value) for value in column if isinstance(value, int)) < DARK


def test_what_cannot_be_written_leaves_the_old_file(tmp_path, monkeypatch):
    """Where the disk is full the old picture stands, and nothing half written."""
    path = tmp_path / "a.svg"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(UserError, match="no space left"):
        write_drawing(drawing(), path)
    assert [file.read_text() for file in tmp_path.iterdir()] == ["old"]
