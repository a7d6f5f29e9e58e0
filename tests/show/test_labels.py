"""Labels on paper: all of it there, in its place, to be read by eye and by machine."""

import io
from fractions import Fraction

import pytest

from cogtally.gears.errors import UserError
from cogtally.shelf.stock.naming import Label
from cogtally.show.drawing import Box, Group, Rectangle, Text, extent_of
from cogtally.show.drawing.paper import pdf_bytes
from cogtally.show.labels import (
    Sheet,
    asked_link,
    asked_sheet,
    labels_drawing,
    small_labels,
    sure_text,
)
from show.drawing_checks import outside_page, overlapping_labels, small_texts

LONG = "Birch four-speed with a name that goes on and on, laygear 31-27-21-15-14-13-12, set early"
LABELS = (
    Label(
        7, "piece", "Birch laygear 31-27-21-15-14, Early", 0.9995, place="shelf 3", price="45 GBP"
    ),
    Label(1234567, "piece", LONG, 0.75, "31 27", count="3", again=True, has_places=True),
    Label(12, "box", "box of Birch, Early", 0.97, "input=20/31 3=27/24", (("3", Fraction(8, 9)),)),
    Label(
        13,
        "pair",
        "likeliest pair 3=27/24 of Birch",
        0.6,
        place="Стеллаж ٣ المخزن 棚",
        count="1.driven",
    ),
    Label(14, "piece", "Nörgel" * 30, 0.2, price="1.00 EUR", count="1", again=True),
)
#: Sheets by how they are asked for.
SHEETS = {
    "3x8": ("3x8", None),
    "8x3": ("8x3", None),
    "5x13": ("5x13", None),
    "13x5": ("13x5", None),
    "roll": (None, "60x30"),
}


def asked(name: str) -> Sheet:
    """The sheet of a name of SHEETS."""
    grid, size = SHEETS[name]
    return asked_sheet(grid, size, "a4", None, None)


@pytest.mark.parametrize(
    "name",
    # Labels of five long columns are tried in many sizes of letters.
    [pytest.param(n, marks=[pytest.mark.long] if n == "5x13" else []) for n in SHEETS],
)
def test_in_place(name):
    """Each label's things stand within its own edges, no text on another, none under 6 pt."""
    sheet = asked(name)
    labels = [LABELS[n % len(LABELS)] for n in range(sheet.rows * sheet.columns + 3)]
    drawing = labels_drawing(labels[:30], sheet)
    assert not outside_page(drawing)
    assert not overlapping_labels(drawing)
    assert {text.split(":")[0] for text in small_labels(drawing)} <= {"item 14"}
    groups = [item for page in drawing.pages for item in page.items]
    for number, group in enumerate(groups):
        assert isinstance(group, Group)
        _, box = sheet.place(number)
        assert within(extent_of(group.items), box), group.name


def within(inner: Box, outer: Box) -> bool:
    """Whether a rectangle lies in another, a hair beside it too."""
    return (
        inner.left >= outer.left - 0.01
        and inner.top >= outer.top - 0.01
        and inner.right <= outer.right + 0.01
        and inner.bottom <= outer.bottom + 0.01
    )


@pytest.mark.parametrize("name", list(SHEETS))
def test_read_back(name):
    """In the PDF, read by another library, stand the right pages, the texts whole and the codes."""
    pypdf = pytest.importorskip("pypdf")
    zxing = pytest.importorskip("zxingcpp")
    pdfium = pytest.importorskip("pypdfium2")
    sheet = asked(name)
    data = pdf_bytes(labels_drawing(LABELS, sheet))
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    assert len(pages) == (len(LABELS) if name == "roll" else 1)
    wide, high = (float(side) * 25.4 / 72 for side in pages[0].mediabox[2:])
    assert (wide, high) == pytest.approx((sheet.width, sheet.height), abs=0.01)
    # Words are broken anew on paper, never cut.
    text = "".join("".join(page.extract_text() for page in pages).split())
    for label in LABELS:
        assert str(label.number) in text
        if name == "roll" and label is not LABELS[4]:
            for said in (label.name, label.price, sure_text(label)):
                assert "".join(said.split()) in text
    document = pdfium.PdfDocument(data)
    codes = [
        code.text
        for page in document
        for code in zxing.read_barcodes(page.render(scale=150 / 72).to_pil())
    ]
    document.close()
    assert sorted(codes) == sorted(f"cogtally:item:{label.number}" for label in LABELS)


def test_numbers_whole():
    """Where teeth go on in another line, no count is broken in two."""
    drawing = labels_drawing(LABELS[:1], asked("5x13"))
    (group,) = drawing.pages[0].items
    assert isinstance(group, Group)
    texts = [item.text for item in group.items if hasattr(item, "text")]
    assert "31-27-21-15-14," in "".join(texts)
    assert all(text.endswith(("-", ",")) for text in texts if "-" in text and text[0].isdigit())


def test_start():
    """On a part-used sheet the first label stands where it is told to, the rest behind it."""
    sheet = asked("8x3")
    first = labels_drawing(LABELS[:1], sheet, start=5).pages[0].items[0]
    assert isinstance(first, Group)
    assert within(extent_of(first.items), sheet.place(4)[1])
    assert len(labels_drawing(LABELS, sheet, start=24).pages) == 2


def test_on_the_smallest_label():
    """On 30 by 15 mm stand the number, the code, the teeth and the place, none under 6 pt."""
    drawing = labels_drawing(LABELS[:1], asked_sheet(None, "30x15", "a4", None, None))
    (group,) = drawing.pages[0].items
    assert isinstance(group, Group)
    texts = [item.text for item in group.items if isinstance(item, Text)]
    assert "".join(texts) == "731-27-21-15-14shelf 3"
    assert small_texts(drawing, 6.0) == []


def test_a_piece_is_drawn_where_there_is_room():
    """Its wheels are bars in proportion to their teeth."""
    drawing = labels_drawing(LABELS[:1], asked_sheet(None, "90x50", "a4", None, None))
    (group,) = drawing.pages[0].items
    assert isinstance(group, Group)
    bars = [i for i in group.items if isinstance(i, Rectangle) and i.height > 3.0]
    heights = [bar.height / bars[0].height for bar in bars]
    assert heights == pytest.approx([count / 31 for count in (31, 27, 21, 15, 14)])


def test_a_shops_own_address_in_the_code():
    """With an address each code holds it with the item's number; one without a number is none."""
    zxing = pytest.importorskip("zxingcpp")
    pdfium = pytest.importorskip("pypdfium2")
    link = asked_link("https://shop.example/{item}/card")
    data = pdf_bytes(labels_drawing(LABELS[:1], asked("roll"), link=link))
    page = pdfium.PdfDocument(data)[0]
    (code,) = zxing.read_barcodes(page.render(scale=150 / 72).to_pil())
    assert code.text == "https://shop.example/7/card"
    for wrong in ("shop.example/{item}", "https://shop.example/", "https://a b/{item}"):
        with pytest.raises(UserError):
            asked_link(wrong)


def test_small_told():
    """A text that comes out too small to read is told of."""
    labels = [LABELS[0], Label(9, "piece", "word " * 300, 1.0)]
    assert small_labels(labels_drawing(labels, asked("roll"))) == ["item 9"]


def test_sheet_measures():
    """Margins and gaps are taken off before the labels are."""
    sheet = asked_sheet("2x3", None, "100x90", "5x8", "4x2")
    assert sheet.label == pytest.approx(((100 - 16 - 4) / 3, (90 - 10 - 4) / 2))
    page, box = sheet.place(7)
    left = 8 + sheet.label[0] + 2
    assert (page, box.top, box.bottom) == (1, 5, pytest.approx(43))
    assert (box.left, box.right) == pytest.approx((left, left + sheet.label[0]))


@pytest.mark.parametrize(
    ("grid", "size", "page", "margin", "gap"),
    [
        (None, None, "a4", None, None),
        ("8x3", "60x30", "a4", None, None),
        ("8", None, "a4", None, None),
        ("0x3", None, "a4", None, None),
        ("2.5x3", None, "a4", None, None),
        ("40x20", None, "a4", None, None),
        ("8x3", None, "quarto", None, None),
        ("8x3", None, "a4", "200", None),
        ("8x3", None, "a4", "x", None),
        ("8x3", None, "a4", None, "-1"),
        (None, "60x30", "a4", "3", None),
        (None, "6x3", "a4", None, None),
        (None, "99999x30", "a4", None, None),
    ],
)
def test_wrong(grid, size, page, margin, gap):
    """A sheet that cannot be read, or whose labels would be too small, is refused."""
    with pytest.raises(UserError):
        asked_sheet(grid, size, page, margin, gap)
