"""A sheet to fill in with oily hands: what it asks for, and how it looks on paper.

Wheels in the order to count in with boxes at each, turn tests, marks, a key. What a family is, is
left to the catalog, the train's picture to the room that draws it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cogtally.catalog.apart import Key
from cogtally.catalog.model import Family, Piece
from cogtally.gears.errors import UserError
from cogtally.gears.trains import OVERDRIVE, Train, wheel_names
from cogtally.gears.turning import SHAFTS
from cogtally.show import drawing as draw, train as trains
from cogtally.show.catalog import key_heading, key_tree, key_words
from cogtally.show.screen import CAUTIONS, DEMO_CAUTION, FORMAT, plain, written_list

#: Layouts and numbers of gears that a blank can have.
BLANKS = ("layshaft", "two-shaft", "sleeve", "axle", OVERDRIVE)
#: Blanks without gears: what is said where some are asked for, and the title of the sheet.
_NO_GEARS = {
    "axle": ("an axle has no gears", "Axle: pinion and crown wheel"),
    OVERDRIVE: ("an overdrive has no gears of its own", "Overdrive: sun and annulus"),
}
FEWEST_GEARS, MOST_GEARS, USUAL_GEARS = 2, 8, 4
#: A piece of which nothing is listed may have these.
_USUAL_FEATURES = "splines, hand, width_mm"


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that a sheet asks for.

    `note`: the family's own. `wheels`: each to its piece, in the order to count in, which gives
    them their numbers; `order` says how, in words. `turns`: how many whole turns in, by gear, None
    on a sheet of no family. `pieces`: to the features that sets of the family tell of. `key` and
    `family`: the key of a family, None where no count parts two sets. `command`: what to type
    before the counts; `pairs`: each pair, and how many wheels it has.
    """

    title: str
    note: str
    picture: trains.Subject
    wheels: Mapping[str, str]
    turns: Mapping[str, int | None]
    pieces: Mapping[str, str]
    order: str
    command: str
    pairs: tuple[tuple[str, int], ...]
    key: Key | None = None
    family: Family | None = None
    demo: bool = False

    @property
    def words(self) -> str:
        """What to type when all is counted, every count still to be written."""
        gaps = (f"{pair}={'/'.join('_' * wheels)}" for pair, wheels in self.pairs)
        return f"{self.command} {' '.join(gaps)}"


def family_sheet(family: Family, *, demo: bool = False) -> Sheet:
    """Return the sheet of a family: first the wheels of its key, then the rest piece by piece."""
    from cogtally.catalog.apart import tell_apart
    from cogtally.evidence.advice import MOST_TURNS
    from cogtally.show.catalog import key_wheels

    key = tell_apart(family).key
    first = key_wheels(key) if key is not None else []
    piece_of = {wheel: piece for piece in family.pieces for wheel in piece.wheels}
    pieces = list(dict.fromkeys([*(piece_of[w] for w in first), *family.pieces]))
    order = list(dict.fromkeys([*first, *(w for piece in pieces for w in piece.wheels)]))
    order += [wheel for wheel in family.train.wheels if wheel not in order]
    labels = {wheel: trains.Label(str(number)) for number, wheel in enumerate(order, 1)}
    asked = ["", "1 is", "1 and 2 are"][len(first)] if len(first) < 3 else f"1 to {len(first)} are"
    told = f"{asked} what the key asks for" if first else ""
    rest = "the rest follows piece by piece"
    return Sheet(
        title=plain(f"{family.title} ({family.id})" if family.title != family.id else family.id),
        # Its lines were written as lines.
        note="\n".join(map(plain, family.note.splitlines())),
        picture=trains.family_subject(family, labels),
        wheels={wheel: piece_of[wheel].name if wheel in piece_of else "" for wheel in order},
        # A direct gear is one turn for one: a test of it tells nothing.
        turns={gear: MOST_TURNS for gear in family.train.gears if gear != family.direct},
        pieces={piece.name: _features(family, piece) for piece in pieces},
        order=f"Count in the order of the ringed numbers: {f'{told}, {rest}' if told else rest}.",
        command=f"cogtally identify {'--demo ' if demo else ''}--family {family.id}",
        pairs=tuple(family.train.pairs.items()),
        key=key,
        family=family,
        demo=demo,
    )


def blank_sheet(layout: str, gears: int | None) -> Sheet:
    """Return the sheet of a box that no catalog has; raises UserError for one that is not made.

    `gears`: how many forward gears; None for what has none, or for the usual number.
    """
    if layout not in BLANKS:
        raise UserError(
            "there is no such blank", f"--blank {layout}", f"use {written_list(BLANKS, 'or')}"
        )
    if layout in _NO_GEARS and gears is not None:
        raise UserError(_NO_GEARS[layout][0], f"--gears {gears}", "leave --gears out")
    number = USUAL_GEARS if gears is None else gears
    if not FEWEST_GEARS <= number <= MOST_GEARS:
        mend = f"write {FEWEST_GEARS} to {MOST_GEARS}"
        raise UserError("a blank does not have so many gears", f"--gears {gears}", mend)
    train, axle = trains.blank_train(layout, number)
    whole = Train(train.layout, {**train.pairs, **({"final": 2} if axle else {})}, train.direct)
    named = {
        name: tuple(part for part in parts if part not in SHAFTS)
        for name, parts in trains.blank_subject(train, axle, {}).joints.pieces.items()
    }
    if layout == OVERDRIVE:
        sun, annulus = wheel_names(trains.BLANK_OVERDRIVE, 2)
        named = {
            f"{trains.BLANK_OVERDRIVE}-sun": (sun,),
            f"{trains.BLANK_OVERDRIVE}-annulus": (annulus,),
        }
    piece_of = {wheel: name for name, wheels in named.items() for wheel in wheels}
    order = [wheel for wheels in named.values() for wheel in wheels if wheel in whole.wheels]
    labels = {wheel: trains.Label(str(place)) for place, wheel in enumerate(order, 1)}
    title = f"A {layout} box of {number} gears"
    return Sheet(
        title=_NO_GEARS[layout][1] if layout in _NO_GEARS else title,
        note="",
        picture=trains.blank_subject(train, axle, labels),
        wheels={wheel: piece_of[wheel] for wheel in order},
        turns={gear: None for gear in train.gears if gear != train.direct},
        pieces={name: _USUAL_FEATURES for name, wheels in named.items() if wheels},
        order="The ringed numbers go piece by piece; strike out what your box does not have.",
        command="cogtally identify",
        pairs=tuple(whole.pairs.items()),
    )


def _features(family: Family, piece: Piece) -> str:
    """Return the features that some set gives for a piece or its wheels, by what has them."""
    found: dict[str, list[str]] = {}
    for kind in family.types.get(piece.name, ()):
        for owner, feature, _ in kind.features:
            names = found.setdefault("" if owner == piece.name else owner, [])
            if feature not in names:
                names.append(feature)
    return "; ".join(
        f"{owner} {', '.join(names)}".strip() for owner, names in sorted(found.items())
    )


def sheet_json(sheet: Sheet, file: str) -> dict[str, Any]:
    """Return what was written, and the wheels in the order to count in."""
    return {
        "format": FORMAT,
        "sheet": file,
        "title": sheet.title,
        "wheels": [
            {"number": number, "wheel": wheel, "piece": piece}
            for number, (wheel, piece) in enumerate(sheet.wheels.items(), 1)
        ],
        "turns": [{"gear": gear, "in": turns} for gear, turns in sheet.turns.items()],
        "pieces": list(sheet.pieces),
    }


MARGIN, GUTTER = 10.0, 3.0
#: No letter of a sheet is smaller than the last of these.
TITLE, WORDS, SMALL = 15 * draw.POINT, 8 * draw.POINT, 7 * draw.POINT
#: The side of a box to write a count in: what a hand needs, and what it gets where there are many.
BOXES = (12.0, 10.5, 9.0, 7.5)
#: Heights of a row to write in, and of the lines for notes.
ROW, NOTE = 7.0, 8.0
#: The height that notes get at least, and the share of the page that the train gets.
LEAST_NOTES, LEAST_TRAIN = 18.0, 0.38
_RULE, _FRAME = draw.Pen(0.2, draw.GREY), draw.Pen(0.3)
_BETWEEN = 0.8
#: A train is drawn in these steps of its size until it fits.
_SIZES = tuple(1.0 - 0.06 * step for step in range(11))

HOW = (
    "Chalk the tooth that you start at, and the casing or bench beside it.",
    "Turn by hand and count each tooth that passes the mark, until the chalked one is back. "
    "It is counted once, not twice.",
    "Wipe the chalk off, start at another tooth, and write the second count in the thin box "
    "without looking at the first.",
    "A wheel that was not counted: leave its box empty. Not sure: write u behind the number.",
)
CHALK = (
    "Chalk a line on the input and on the output, and on the casing beside each. Turn the input "
    "so many whole turns; read the output to an eighth of a turn."
)


def sheet_drawing(sheet: Sheet, paper: str = "a4") -> draw.Drawing:
    """Return a sheet, key and turn tests on a second page where the train needs theirs.

    `paper`: of PAGES."""
    width, height = draw.PAGES[paper]
    page = _Layout(sheet, draw.Box(MARGIN, MARGIN, width - MARGIN, height - MARGIN))
    about = f"A sheet to count in: {sheet.title}. {sheet.order}"
    pages = [draw.Page(width, height, tuple(page.items()))]
    if not page.is_whole:
        pages.append(draw.Page(width, height, tuple(page.second())))
    return draw.Drawing(tuple(pages), f"Count sheet: {sheet.title}", about)


class _Layout:
    """The parts of a sheet from top to bottom; the train has what the others leave.

    Where that is too little, key and turn tests go on a page of their own.
    """

    def __init__(self, sheet: Sheet, page: draw.Box) -> None:
        self.sheet, self.page = sheet, page
        self.middle = page.left + 0.5 * page.width
        self.half = page.right - self.middle - GUTTER
        self.key: list[draw.Item] = []
        if sheet.key is not None and sheet.family is not None:
            self.key = key_tree(sheet.key, sheet.family, SMALL, titles=False)
        self.head, self.top = self._head()
        self.foot, self.foot_top = self._foot()
        self.strip, strip_high = self._strip()
        self.strip_top = self.foot_top - strip_high - GUTTER
        self.pieces, self.pieces_high = self._pieces(1)
        self.tests, self.tests_high = self._tests()
        narrow = not self.key or draw.extent_of(self.key).width <= self.half
        high = max(self.pieces_high + LEAST_NOTES, self.tests_high)
        room = self.strip_top - self.top - high - 2 * GUTTER
        self.is_whole = narrow and room >= LEAST_TRAIN * page.height
        if not self.is_whole:
            self.pieces, self.pieces_high = self._pieces(2)

    def items(self) -> list[draw.Item]:
        """Return all that stands on the page."""
        page, below = self.page, self.strip_top - GUTTER
        high = self.pieces_high + LEAST_NOTES
        if self.is_whole:
            high = max(high, self.tests_high)
        train, used = self._train(draw.Box(page.left, self.top, page.right, below - high - GUTTER))
        low = min(below - high, self.top + used + GUTTER)
        notes = draw.Box(page.left, low + self.pieces_high + GUTTER, page.right, below)
        found: list[draw.Item] = [
            draw.Group("head", tuple(self.head)),
            draw.Group("train", train),
            draw.Group("pieces", draw.placed(self.pieces, page.left, low)),
            draw.Group("strip", draw.placed(self.strip, page.left, self.strip_top)),
            draw.Group("foot", tuple(self.foot)),
        ]
        if self.is_whole:
            right = self.middle + GUTTER
            found.append(draw.Group("tests", draw.placed(self.tests, right, low)))
            notes = draw.Box(page.left, notes.top, self.middle - GUTTER, below)
            if self.tests_high + LEAST_NOTES < self.pieces_high:
                notes = draw.Box(right, low + self.tests_high + GUTTER, page.right, below)
        return [*found, draw.Group("notes", tuple(_notes(notes)))]

    def second(self) -> list[draw.Item]:
        """Return the page of key and turn tests, which had no room on the first."""
        page, sheet = self.page, self.sheet
        items, y = self._heading(sheet.title, page.top)
        tests, high = self._tests(with_key=False)
        items.append(draw.Group("tests", draw.placed(tests, page.left, y)))
        y += high + GUTTER
        if sheet.key is not None and sheet.family is not None:
            words, y = _paragraphs([key_heading(sheet.key), key_words(sheet.key)], page, y)
            items += words
            key = key_tree(sheet.key, sheet.family, WORDS)
            box = draw.extent_of(key)
            scale = min(page.width / box.width, (page.bottom - y - 2) / box.height, 1.0)
            if scale < SMALL / WORDS:
                said = "Its key is too long for a sheet: 'cogtally catalog apart'."
                lines, y = _paragraphs([said], page, y)
                items += lines
            else:
                tree = draw.placed(key, page.left, y - box.top * scale + 1.0, scale)
                items.append(draw.Group("key", tree))
                y += box.height * scale + 2 * GUTTER
        return [
            *items,
            draw.Group("notes", tuple(_notes(draw.Box(page.left, y, page.right, page.bottom)))),
        ]

    def _heading(self, text: str, top: float) -> tuple[list[draw.Item], float]:
        split = self.page.left + self.page.width * 0.58
        title = draw.Box(self.page.left, top, split - GUTTER, top + 8.0)
        return list(draw.text_box(text, title, TITLE, bold=True, most_lines=2)), top + 9.5

    def _head(self) -> tuple[list[draw.Item], float]:
        """Return the title, lines for whose box it is, the note, how to count, where they end."""
        page, sheet = self.page, self.sheet
        items, y = self._heading(sheet.title, page.top)
        x = split = page.left + page.width * 0.58
        for field, share in (("box", 0.4), ("by", 0.3), ("date", 0.3)):
            end = x + (page.right - split) * share
            base, line = page.top + 5.5, page.top + 6.1
            items.append(draw.Text(x, base, field, WORDS))
            after, last = x + draw.text_width(field, WORDS) + 1.0, min(end - 2.0, page.right)
            items.append(draw.Line((after, line), (last, line), _RULE))
            x = end
        notes, y = _paragraphs([sheet.note], page, y)
        items += notes
        half = (page.width - GUTTER) / 2
        ends = []
        for place in (0, 1):
            left = page.left + place * (half + GUTTER)
            steps = [f"{2 * place + n}. {HOW[2 * place + n - 1]}" for n in (1, 2)]
            lines, end = _paragraphs(steps, draw.Box(left, 0.0, left + half, 0.0), y, SMALL)
            items += lines
            ends.append(end)
        y = max(ends) + 0.6
        items.append(draw.Text(page.left, y + draw.ASCENT * WORDS, sheet.order, WORDS, bold=True))
        return items, y + 2.0 * WORDS

    def _foot(self) -> tuple[list[draw.Item], float]:
        """Return the cautions, at the foot of the page, and where they begin."""
        demo = [DEMO_CAUTION] if self.sheet.demo else []
        items, y = _paragraphs([" ".join([*demo, *CAUTIONS])], self.page, 0.0, SMALL)
        top = self.page.bottom - y
        return list(draw.placed(items, 0.0, top)), top

    def _strip(self) -> tuple[list[draw.Item], float]:
        """Return the counts to write in once more as they are typed, and their height."""
        text = f"Write the counts in, then type what stands here:  {self.sheet.command}"
        items, y = _paragraphs([text], draw.Box(0.0, 0.0, self.page.width, 0.0), 0.0)
        x, side, high = 0.0, 9.0, 9.0
        slash = draw.text_width("/", TITLE) + 1.0
        for pair, wheels in self.sheet.pairs:
            name = f"{pair}="
            start = draw.text_width(name, TITLE * 0.8, bold=True) + 0.8
            width = start + wheels * side + (wheels - 1) * slash
            if x and x + width > self.page.width:
                x, y = 0.0, y + high + 1.5
            base = y + 0.5 * high + 0.3 * TITLE
            items.append(draw.Text(x, base, name, TITLE * 0.8, bold=True))
            for place in range(wheels):
                at = x + start + place * (side + slash)
                items.append(draw.Rectangle(at, y, side, high, _FRAME))
                if place:
                    items.append(draw.Text(at - slash / 2, base, "/", TITLE, "middle"))
            x += width + 5.0
        return items, y + high

    def _train(self, box: draw.Box) -> tuple[tuple[draw.Item, ...], float]:
        """Return the train as large as it fits with its boxes, and the height that it takes."""
        subject = self.sheet.picture
        long = subject.plan(slid=False).width
        for side in BOXES:
            for size in _SIZES:
                wide = (box.width - 11.0 * SMALL - side) / size / long
                # What stands at the ends does not grow with the rest: once more as long as it may.
                for _ in range(2):
                    picture = trains.train_picture(subject, _letters(size, side, wide), view=False)
                    across, high = picture.box.width * size, picture.box.height * size
                    wide *= (box.width - 2.0) / across
                if across <= box.width and high <= box.height:
                    return _centred(picture, box, size), high
        # A long train with few teeth apart: its boxes come out smaller.
        size = min(box.width / picture.box.width, box.height / picture.box.height)
        return _centred(picture, box, size), picture.box.height * size

    def _pieces(self, columns: int) -> tuple[list[draw.Item], float]:
        """Return a row for each piece: its wheels in order, its marks, what else to look at."""
        rows = -(-len(self.sheet.pieces) // columns)
        width = self.half
        name, marks = 0.5 * width, 0.25 * width
        items: list[draw.Item] = []
        ends = [0.0]
        for column in range(columns):
            left = column * (self.middle + GUTTER - self.page.left)
            for x, text in (
                (0.0, "piece by piece"),
                (name, "marks on it"),
                (name + marks, "what else"),
            ):
                items.append(draw.Text(left + x, draw.ASCENT * WORDS, text, WORDS, bold=True))
            y = WORDS * draw.LEADING
            for piece in list(self.sheet.pieces)[column * rows : (column + 1) * rows]:
                words, foot = self._piece(piece, y, name - 1.5)
                high = max(ROW, foot - y)
                for x, wide in ((name, marks), (name + marks, width - name - marks)):
                    items.append(draw.Rectangle(left + x, y, wide, high, _FRAME))
                items.append(draw.Group(f"piece {piece}", draw.placed(words, left, 0.0)))
                y += high + _BETWEEN
            ends.append(y)
        return items, max(ends)

    def _piece(self, piece: str, top: float, width: float) -> tuple[list[draw.Item], float]:
        """Return the name of a piece, the ringed numbers of its wheels, and what to look at."""
        pieces = enumerate(self.sheet.wheels.values(), 1)
        numbers = [str(number) for number, own in pieces if own == piece]
        ring, apart = 0.88 * SMALL, 1.98 * SMALL
        room = width - len(numbers) * apart - 1.0
        name = draw.text_width(piece, WORDS, bold=True)
        row = top if room >= min(name, width / 3) else top + 4.0
        box = draw.Box(0.0, top, room if row == top else width, top + 3.6)
        items: list[draw.Item] = [*draw.text_box(piece, box, WORDS, bold=True, most_lines=1)]
        for place, number in enumerate(reversed(numbers)):
            x, y = width - ring - place * apart, row + 0.85 * ring
            items.append(draw.Ellipse(x, y, ring, ring, draw.Pen(0.25)))
            items.append(draw.Text(x, y + 0.36 * SMALL, number, SMALL, "middle"))
        features = self.sheet.pieces[piece]
        hint = f"what else: {features}" if features else ""
        lines, y = _paragraphs([hint], draw.Box(0.0, 0.0, width, 0.0), row + 4.6, SMALL)
        return [*items, *lines], y

    def _tests(self, *, with_key: bool = True) -> tuple[list[draw.Item], float]:
        """Return the key and the turn tests, one under the other, and their height."""
        width = self.half
        column = draw.Box(0.0, 0.0, width, 0.0)
        items: list[draw.Item] = []
        y = 0.0
        if with_key and self.sheet.key is not None:
            head = key_heading(self.sheet.key)
            items.append(draw.Text(0.0, draw.ASCENT * WORDS, head, WORDS, bold=True))
            box = draw.extent_of(self.key)
            tree = draw.placed(self.key, 0.0, WORDS * draw.LEADING - box.top + 0.5)
            items.append(draw.Group("key", tree))
            y = WORDS * draw.LEADING + box.height + GUTTER
        if not self.sheet.turns:
            return items, y
        items.append(draw.Text(0.0, y + draw.ASCENT * WORDS, "Turn tests", WORDS, bold=True))
        lines, y = _paragraphs([CHALK], column, y + WORDS * draw.LEADING, SMALL)
        items += lines
        widths = [width * share for share in (0.2, 0.24, 0.28, 0.28)]
        heads = ("gear", "turns in", "out", "again")
        tests = [(gear, str(turns or ""), "", "") for gear, turns in self.sheet.turns.items()]
        for place, cells in enumerate([heads, *tests]):
            items += _cells(0.0, y, ROW if place else SMALL * 1.3, widths, cells, head=not place)
            y += ROW if place else SMALL * 1.3
        return items, y


def _letters(size: float, side: float, wide: float) -> trains.Letters:
    """Return letters and boxes that are as large as they should be once the train is drawn."""
    return trains.Letters(
        1.35 * WORDS / size, 1.05 * SMALL / size, side / size, min(max(1.0, wide), 4.0)
    )


def _centred(picture: trains.Picture, box: draw.Box, size: float) -> tuple[draw.Item, ...]:
    x = box.left + (box.width - picture.box.width * size) / 2 - picture.box.left * size
    return draw.placed(picture.items, x, box.top - picture.box.top * size, size)


def _notes(box: draw.Box) -> list[draw.Item]:
    """Return lines to write on, and what they are for."""
    items: list[draw.Item] = [
        draw.Text(box.left, box.top + draw.ASCENT * WORDS, "Notes", WORDS, bold=True)
    ]
    y = box.top + NOTE
    while y < box.bottom:
        items.append(draw.Line((box.left, y), (box.right, y), _RULE))
        y += NOTE
    return items


def _cells(
    x: float,
    y: float,
    height: float,
    widths: Sequence[float],
    texts: Sequence[str],
    *,
    head: bool = False,
) -> list[draw.Item]:
    """Return a row of cells with their texts; those of a head have no frame."""
    items: list[draw.Item] = []
    for width, text in zip(widths, texts, strict=True):
        if not head:
            items.append(draw.Rectangle(x, y, width, height, _FRAME))
        base = y + height / 2 + 0.36 * WORDS
        items.append(draw.Text(x + 1.0, base, text, SMALL if head else WORDS, bold=head))
        x += width
    return [item for item in items if not isinstance(item, draw.Text) or item.text]


def _paragraphs(
    texts: Sequence[str], page: draw.Box, y: float, size: float = WORDS
) -> tuple[list[draw.Item], float]:
    """Return texts one below the other, as wide as the page from `y` on, and where they end."""
    items: list[draw.Item] = []
    for text in filter(None, texts):
        lines, y = draw.paragraph(text, page.left, page.right, y, size)
        items += lines
        y += _BETWEEN
    return items, y
