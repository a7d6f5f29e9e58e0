"""Labels to print: what stands on each, as large as it fits, and where each stands on its page.

What a label says is left to the shelf. Where all has no room in letters that can be read, the
number, the name or its teeth, and the place are what stays. Lengths are millimetres.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from cogtally.gears.errors import UserError, shown
from cogtally.shelf.stock import PIECE, Label
from cogtally.show import drawing as draw
from cogtally.show.ratios import decimal
from cogtally.show.screen import in_words, plain

#: A label has to have room for a code that a telephone reads, and a word beside it.
LEAST_SHORT, LEAST_LONG = 12.0, 20.0
#: Millimetres between the edge of the page and the labels, where nothing else is said.
MARGIN = 8.0
MOST_ROWS, MOST_SIDE = 100, 2000.0
_TWO = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,3})?)(?:[x×]([0-9]{1,4}(?:\.[0-9]{1,3})?))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A page of `rows` by `columns` labels, all alike.

    `margin` is (above and below, left and right), `gap` (between rows, between columns).
    """

    width: float
    height: float
    rows: int = 1
    columns: int = 1
    margin: tuple[float, float] = (0.0, 0.0)
    gap: tuple[float, float] = (0.0, 0.0)

    @property
    def label(self) -> tuple[float, float]:
        """How wide and how high each label is."""
        across = self.width - 2 * self.margin[1] - (self.columns - 1) * self.gap[1]
        down = self.height - 2 * self.margin[0] - (self.rows - 1) * self.gap[0]
        return across / self.columns, down / self.rows

    def place(self, number: int) -> tuple[int, draw.Box]:
        """Return the page, from 0, and the edges of label `number`, from 0, row by row."""
        page, rest = divmod(number, self.rows * self.columns)
        row, column = divmod(rest, self.columns)
        wide, high = self.label
        left = self.margin[1] + column * (wide + self.gap[1])
        top = self.margin[0] + row * (high + self.gap[0])
        return page, draw.Box(left, top, left + wide, top + high)


def asked_sheet(
    grid: str | None, size: str | None, page: str, margin: str | None, gap: str | None
) -> Sheet:
    """Return the sheet that options tell of: a `grid` on a `page`, or one label of a `size`.

    Raises UserError for what cannot be read, and for labels too small to be read.
    """
    if (grid is None) == (size is None):
        mend = "write --grid 8x3 for a sheet, or --size 60x30 for a roll"
        both = "labels are on a sheet or on a roll" if grid else "say what the labels are on"
        raise UserError(both, "cogtally stock label", mend)
    if size is not None:
        if margin is not None or gap is not None:
            raise UserError("--margin and --gap go with --grid", mend="leave them out")
        wide, high = _sides("--size", size, "60x30")
        return _whole(Sheet(wide, high), f"--size {shown(size)}")
    rows, columns = _sides("--grid", grid or "", "8x3")
    if not (rows.is_integer() and columns.is_integer() and max(rows, columns) <= MOST_ROWS):
        raise UserError(
            f"rows and columns are whole numbers up to {MOST_ROWS}", f"--grid {shown(grid or '')}"
        )
    wide, high = draw.PAGES.get(page.lower()) or _sides("--page", page, "a4, letter or 210x297")
    around = (MARGIN, MARGIN) if margin is None else _pair("--margin", margin, "13x5")
    between = (0.0, 0.0) if gap is None else _pair("--gap", gap, "0x2.5")
    sheet = Sheet(wide, high, int(rows), int(columns), around, between)
    return _whole(sheet, f"--grid {shown(grid or '')}")


def _whole(sheet: Sheet, place: str) -> Sheet:
    short, long = sorted(sheet.label)
    if short < LEAST_SHORT or long < LEAST_LONG:
        wide, high = (f"{max(side, 0.0):.0f}" for side in sheet.label)
        mend = f"a label needs {LEAST_LONG:.0f} by {LEAST_SHORT:.0f} mm"
        raise UserError(f"the labels come out as {wide} by {high} mm", place, mend)
    return sheet


def _sides(option: str, text: str, example: str) -> tuple[float, float]:
    found = _read(text)
    if found is None or len(found) != 2 or not all(0 < side <= MOST_SIDE for side in found):
        raise UserError("this is no size", f"{option} {shown(text)}", f"write {option} {example}")
    return found[0], found[1]


def _pair(option: str, text: str, example: str) -> tuple[float, float]:
    found = _read(text)
    if found is None:
        mend = f"write millimetres, up and down first, then across: {option} {example}"
        raise UserError("this is no length", f"{option} {shown(text)}", mend)
    return found[0], found[-1]


def _read(text: str) -> Sequence[float] | None:
    found = _TWO.fullmatch(text.strip().lower())
    return None if found is None else [float(part) for part in found.groups() if part is not None]


#: Sizes where there is room: the number, the name, all else; and what none of these is under.
NUMBER, NAME, REST, LEAST = 16 * draw.POINT, 10 * draw.POINT, 8.5 * draw.POINT, 6 * draw.POINT
#: Millimetres inside the edges of a label, and between the code and the text.
INSIDE, BESIDE = 1.5, 1.2
#: A code's side: at most, and what it may take of the label's longer side.
MOST_CODE, CODE_SHARE = 20.0, 0.42
#: Empty modules round a code; with the edge of the label they are the four that ISO/IEC 18004
#: asks for (from memory).
QUIET = 2
#: What stands in a code where a shop has no address of its own; `{item}` is the number.
CODE = "cogtally:item:{item}"
RATIO_PLACES = 3
_SMALLER, _BETWEEN = 0.95, 0.25
#: An address is no longer.
MOST_LINK = 100
#: A piece is drawn where so much height is left, and no higher than so much.
_LEAST_SHAPE, _MOST_SHAPE = 4.5, 10.0
#: The parts of a word, each with the hyphen behind it, and the teeth of a piece in a name.
_HYPHENED = re.compile(r"[^-]*-|[^-]+")
_TEETH = re.compile(r"(?<![\w=/.-])[0-9]{1,3}(?:[- ](?:[0-9]{1,3}|_))+(?![\w/.])")

#: A line of text, its size and its weight.
Words = tuple[str, float, bool]


def labels_drawing(
    labels: Sequence[Label], sheet: Sheet, start: int = 1, link: str = CODE
) -> draw.Drawing:
    """Return the pages of some labels; the first stands on place `start` of its sheet, from 1.

    `link`: what stands in the codes, with `{item}` for the number.
    """
    placed = [(*sheet.place(start - 1 + n), label) for n, label in enumerate(labels)]
    pages = tuple(
        draw.Page(
            sheet.width,
            sheet.height,
            tuple(
                draw.Group(f"item {label.number}", tuple(label_items(label, box, link)), label.name)
                for _, box, label in some
            ),
        )
        for _, some in groupby(placed, key=lambda one: one[0])
    )
    return draw.Drawing(pages, "Labels", f"{len(labels)} labels of items of the stock")


def asked_link(text: str | None) -> str:
    """Return what stands in the codes; raise UserError for what is no address with a number."""
    if text is None:
        return CODE
    mend = "write --link https://example.org/stock/{item}"
    if not text.startswith(("https://", "http://")) or not text.isprintable() or " " in text:
        raise UserError("this is no address", f"--link {shown(text)}", mend)
    if "{item}" not in text:
        raise UserError("the address has no place for the number", f"--link {shown(text)}", mend)
    if len(text) > MOST_LINK:
        raise UserError("the address is too long for a code", f"--link {shown(text)}", mend)
    return text


def label_items(label: Label, box: draw.Box, link: str = CODE) -> Iterator[draw.Item]:
    """Yield what stands on one label: the code, beside it or below it the texts, and the piece."""
    inner = draw.Box(box.left + INSIDE, box.top + INSIDE, box.right - INSIDE, box.bottom - INSIDE)
    short, long = sorted((inner.width, inner.height))
    side = min(short, long * CODE_SHARE, MOST_CODE)
    yield from _code(link.replace("{item}", str(label.number)), inner.left, inner.top, side)
    if inner.width >= inner.height:
        room = draw.Box(inner.left + side + BESIDE, inner.top, inner.right, inner.bottom)
    else:
        room = draw.Box(inner.left, inner.top + side + BESIDE, inner.right, inner.bottom)
    texts = _texts(label, room)
    yield from texts
    last = max((text.y + draw.DESCENT * text.size for text in texts), default=room.top)
    yield from _shape(label, draw.Box(room.left, last + 1.0, room.right, room.bottom))


def lines_of(label: Label) -> tuple[list[Words], ...]:
    """Return the texts of a label, the first the number: all of them, then ever fewer.

    What stays to the last is the number, the teeth (or the name, where it has none) and the place.
    """
    number, name = (f"{label.number}", NUMBER, True), (plain(label.name), NAME, True)
    ends = [(plain(t), REST, bool(t == label.price)) for t in (label.place, label.price) if t]
    every = [number, name, (sure_text(label), REST, False)]
    if label.counted:
        every.append((f"counted {plain(label.counted)}", REST, False))
    if len(label.ratios) == 1:
        every.append((f"ratio {decimal(label.ratios[0][1], RATIO_PLACES)}", REST, False))
    elif label.ratios:
        told = (f"{plain(gear)}={decimal(r, RATIO_PLACES)}" for gear, r in label.ratios)
        every.append((f"ratios {' '.join(told)}", REST, False))
    teeth = _teeth_of(label)
    short = (teeth, NAME, True) if teeth else name
    place = ends[:1] if label.place else []
    return [*every, *ends], [number, name, *ends], [number, name, *place], [number, short, *place]


def sure_text(label: Label) -> str:
    """Return how sure the name is: `certain`, `possible, count 3.driven to be sure`."""
    word = in_words(label.probability)
    if not label.count:
        return word
    what = label.count
    if label.kind == PIECE:
        what = f"place {what}" if label.has_places else "it"
    return f"{word}, count {what}{' again' if label.again else ''} to be sure"


def small_labels(drawing: draw.Drawing) -> list[str]:
    """Return the names of the labels that have text smaller than LEAST."""
    return [
        item.name
        for page in drawing.pages
        for item in page.items
        if isinstance(item, draw.Group)
        and any(isinstance(one, draw.Text) and one.size < LEAST - 1e-9 for one in item.items)
    ]


def _teeth_of(label: Label) -> str:
    """Return the teeth of a piece along its axis, as they stand in its name or were counted."""
    found = _TEETH.search(label.name) or _TEETH.search(label.counted)
    return "" if found is None else found.group().replace(" ", "-")


def _texts(label: Label, room: draw.Box) -> list[draw.Text]:
    """Return texts below each other: as many as stand there in letters that can be read."""
    found: list[draw.Text] = []
    for lines in lines_of(label):
        share = 1.0
        while True:
            sized = [(text, max(size * share, LEAST), bold) for text, size, bold in lines]
            found = _set_out(sized, room)
            if found:
                return found
            if all(size == LEAST for _, size, _ in sized):
                break
            share *= _SMALLER
    # A name that is longer than any label: small, its words broken, but all of it.
    size = LEAST
    while not found:
        size *= _SMALLER
        found = _set_out([(text, size, bold) for text, _, bold in lines], room)
    return found


def _set_out(lines: Sequence[Words], room: draw.Box) -> list[draw.Text]:
    """Return texts below each other in a room; none where it is too small for them."""
    found: list[draw.Text] = []
    top = room.top
    for number, (text, size, bold) in enumerate(lines):
        top += _BETWEEN * size if number else 0.0
        some = _wrapped(text, room.width, size, bold, size <= LEAST)
        if any(draw.text_width(line, size, bold) > room.width for line in some):
            return []
        found += [
            draw.Text(
                room.left, top + (draw.ASCENT + n * draw.LEADING) * size, line, size, bold=bold
            )
            for n, line in enumerate(some)
            if line
        ]
        top += draw.lines_height(len(some), size)
    return found if top <= room.bottom + 1e-9 else []


def _shape(label: Label, room: draw.Box) -> Iterator[draw.Item]:
    """Yield a piece from the side, its wheels as bars as high as their teeth, where it has room."""
    teeth = [int(t) for t in _teeth_of(label).split("-") if t.isdigit()]
    high = min(room.height, _MOST_SHAPE)
    if len(teeth) < 2 or high < _LEAST_SHAPE:
        return
    wide = min(4.0, room.width / (1.4 * len(teeth)))
    middle, x = room.top + high / 2, room.left
    end = room.left + 1.4 * wide * len(teeth)
    yield draw.Line((room.left, middle), (end, middle), draw.Pen(0.4))
    for count in teeth:
        tall = high * count / max(teeth)
        yield draw.Rectangle(x + 0.2 * wide, middle - tall / 2, wide, tall, None, draw.INK)
        x += 1.4 * wide


def _wrapped(text: str, width: float, size: float, bold: bool, broken: bool) -> list[str]:
    """Wrap a text; a word that is too wide goes on behind a hyphen of its own, as teeth do."""
    words = []
    for word in text.split():
        chunk = ""
        for part in _HYPHENED.findall(word):
            if chunk and draw.text_width(chunk + part, size, bold) > width:
                words.append(chunk)
                chunk = ""
            chunk += part
        words.append(chunk)
    return draw.wrapped_to(" ".join(words), width, size, bold=bold, broken=broken)


def _code(text: str, left: float, top: float, side: float) -> Iterator[draw.Rectangle]:
    """Yield the dark modules of a code, those in a row together, the quiet zone within `side`."""
    rows = _modules(text)
    one = side / (len(rows) + 2 * QUIET)
    for y, row in enumerate(rows, QUIET):
        x = QUIET
        for dark, some in groupby(row):
            length = len(list(some))
            if dark:
                yield draw.Rectangle(
                    left + x * one, top + y * one, length * one, one, pen=None, fill=draw.INK
                )
            x += length


@lru_cache(maxsize=1024)
def _modules(text: str) -> tuple[tuple[bool, ...], ...]:
    import segno

    # As few modules as hold the text, and what is left over goes to the mending of errors.
    code = segno.make(text, error="l", micro=False, boost_error=True)
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)
