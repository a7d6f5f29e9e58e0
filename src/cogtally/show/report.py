"""The page about one box for a customer's file: what stands on it, as HTML or as pages of A4.

What is true of the box is left to the evidence, the train's picture to the room of trains. The HTML
needs nothing beside it; the PDF has the same words.
"""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby, product
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.evidence.posterior import NEW, UNCATALOGUED
from cogtally.evidence.reading import Account, Answer
from cogtally.show import box as boxes, drawing as draw
from cogtally.show.screen import CAUTIONS, per_cent, plain, signed
from cogtally.store.whole import write_whole

if TYPE_CHECKING:
    from markupsafe import Markup


#: Characters of a catalog's digest that are shown: enough to tell two catalogs apart.
DIGEST_SHOWN = 12
#: The tables of pairs, in this order.
_DISAGREES, _AGREES, _NOT_COUNTED, _COUNTED = "Disagree", "Agree", "Not counted", "Counted teeth"
_GROUPS = (_DISAGREES, _AGREES, _NOT_COUNTED)
#: From so many bits on a row speaks so much for a side; below the last it speaks for none.
_MUCH = ((4.0, "strongly"), (1.0, ""), (0.0, "a little"))
LEAST_TOLD = 0.1


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its caption, the head of each column, and its rows; the first cell names a row.

    `note` is said below it.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Report:
    """All that the page says, as plain text; nothing in it is marked up or escaped.

    `people`: whose shop, customer, vehicle and job it is of. `pairs`: those that disagree, those
    that agree, and those not counted; `checked` says how many. `plainly`: the account without its
    bits. `seen`: the words as they were written. `facts`: names and values of the foot.
    """

    title: str
    people: tuple[tuple[str, str], ...]
    headline: str
    sentences: tuple[str, ...]
    pairs: tuple[Table, ...]
    looks: Table | None
    checked: str
    remedies: tuple[str, ...]
    rivals: Table | None
    plainly: Table | None
    account: Table | None
    seen: tuple[str, ...]
    not_counted: str
    next: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


def report_of(
    answer: Answer,
    made: date,
    digest: str,
    shelf: boxes.Shelf | None = None,
    people: Mapping[str, str | None] | None = None,
) -> Report:
    """Return the report of one box, made on a day, by the catalog of that digest.

    `shelf` is what is for sale, where a stock was looked through; `people`: who it is for, by what
    each is called.
    """
    first, *others = [plain(text) for text in boxes.sentences(answer)]
    return Report(
        title="Gearbox report",
        people=tuple((name, plain(text)) for name, text in (people or {}).items() if text),
        headline=first,
        sentences=tuple(others),
        pairs=_pairs(answer),
        looks=_looks(answer),
        checked="" if answer.checked is None else boxes.conclusion(answer),
        remedies=tuple(boxes.remedy_text(answer, remedy, shelf) for remedy in answer.remedies),
        rivals=_rivals(answer),
        plainly=None if answer.account is None else _plainly(answer.account),
        account=None if answer.account is None else _account(answer.account),
        seen=tuple(plain(one.text) for one in (*answer.seen.words, *answer.seen.looks)),
        not_counted=_not_counted(answer),
        next=" ".join(boxes.next_lines(answer, sys.maxsize)),
        facts=_facts(answer, made, digest),
        cautions=CAUTIONS,
    )


def _pairs(answer: Answer) -> tuple[Table, ...]:
    """Return the pairs in three tables: what disagrees comes first."""
    nearest = answer.verdict.leaning in (NEW, UNCATALOGUED)
    printed = bool(answer.beside) and not any(known.is_counted for known in answer.beside)
    beside = plain(boxes.column_head(answer)) if answer.beside else ""
    listed = f"{beside.removesuffix(' has').removesuffix(' have')}: ratio" if beside else ""
    head = ("gear", "counted", "sum", "ratio", beside, listed, "remarks")
    sorted_out: dict[str, list[tuple[str, ...]]] = {name: [] for name in _GROUPS}
    for line in answer.lines:
        remarks = boxes.pair_remarks(line, nearest, printed)
        row = (*boxes.pair_row(line), plain("; ".join(remarks)))
        is_counted = any(t is not None for t in line.teeth) or line.turns
        off = line.differs or line.off or line.parted or line.clashing or line.lacking
        group = _NOT_COUNTED if line.wheels and not is_counted else _AGREES
        sorted_out[_DISAGREES if off or any(t.differs for t in line.turns) else group].append(row)
    if not answer.beside:
        # With nothing to agree with, they are all that was counted.
        sorted_out = {_COUNTED: [row for rows in sorted_out.values() for row in rows]}
    return tuple(_used(Table(name, head, tuple(rows))) for name, rows in sorted_out.items() if rows)


def _looks(answer: Answer) -> Table | None:
    if not answer.looks:
        return None
    head = ("looked at", "seen", plain(boxes.column_head(answer)), "remarks")
    rows = [(*boxes.look_row(line), boxes.DIFFERS if line.differs else "") for line in answer.looks]
    return _used(Table("Marks and features", head, tuple(rows)))


def _rivals(answer: Answer) -> Table | None:
    rows = tuple(
        (plain(boxes.rival_text(answer, rival, sys.maxsize)), per_cent(rival.share.probability))
        for rival in answer.rivals
    )
    return Table("Other answers", ("answer", "probability"), rows) if rows else None


def _plainly(account: Account) -> Table:
    """The account in words: what speaks for the answer, what against it, and how much."""
    rows = []
    for row in boxes.account_rows(account):
        much = next((word for least, word in _MUCH if abs(row.bits) >= least), "")
        side = "for" if row.bits > 0 else "against"
        said = f"{much} {side} it".strip() if abs(row.bits) >= LEAST_TOLD else "for neither"
        rows.append((plain(row.seen), said, plain(row.because)))
    return Table(
        f"What speaks for {boxes.account_sides(account)}", ("seen", "speaks", "reason"), tuple(rows)
    )


def _account(account: Account) -> Table:
    total = account.total
    side = "for" if total >= 0 else "against"
    return Table(
        f"Why: {boxes.account_sides(account)}",
        ("seen", "bits", "reason"),
        tuple(
            (plain(r.seen), signed(r.bits), plain(r.because)) for r in boxes.account_rows(account)
        ),
        f"Together {signed(total)} bits, or {boxes.odds(total)} {side}. One bit doubles the odds.",
    )


def _not_counted(answer: Answer) -> str:
    """Return a sentence on the wheels of the box that nobody counted, as far as it is known."""
    left = dict.fromkeys(
        wheel
        for line in answer.lines
        for wheel, teeth in zip(line.wheels, line.teeth, strict=True)
        if teeth is None
    )
    if left:
        return f"{', '.join(left)}."
    if answer.verdict.family:
        return "Every wheel was counted."
    return "Every wheel that was written down was counted; of no known family, more may be there."


def _facts(answer: Answer, made: date, digest: str) -> tuple[tuple[str, str], ...]:
    catalog = answer.catalog
    held = f"{len(catalog.by_id)} families, {catalog.set_count} sets"
    asked = (("Asked about", f"family {answer.restricted} alone"),) if answer.restricted else ()
    return (
        ("Date", made.isoformat()),
        ("Catalog", f"{plain(catalog.name) or 'without a name'} ({held})"),
        ("Fingerprint of the catalog", digest[:DIGEST_SHOWN]),
        *asked,
    )


def _used(table: Table) -> Table:
    """Return a table without the columns in which no row has anything."""
    kept = [i for i in range(len(table.head)) if i == 0 or any(row[i] for row in table.rows)]

    def of(cells: Sequence[str]) -> tuple[str, ...]:
        return tuple(cells[i] for i in kept)

    return Table(table.caption, of(table.head), tuple(of(row) for row in table.rows), table.note)


TEMPLATE, PDF = "report.html.j2", ".pdf"
WIDTH, HEIGHT = draw.PAGES["a4"]
MARGIN = 14.0
TITLE, ANSWER, HEAD, WORDS, SMALL = (n * draw.POINT for n in (16, 12, 11, 9, 8))
#: Between columns, between lines of a table, and round the answer.
GAP, LEADING, PADDING = 3.0, 1.3, 2.5
#: A column is no narrower, where it has to be wrapped.
LEAST_COLUMN = 18.0
#: The picture of the train is as wide as the page, but no higher than the first of these, nor with
#: letters so much larger than those around it; than the second where all is one page then.
PICTURES, LARGEST = (136.0, 92.0), 1.25


#: A report is set so much smaller where it is one page then, none of it under 7 point.
_SIZES = (1.0, 0.94, 0.88)


def write_report(
    report: Report,
    place: Path,
    picture: draw.Drawing | None = None,
    narrow: draw.Drawing | None = None,
) -> None:
    """Write a report to `place`, a PDF where that ends so, else HTML; raise UserError.

    `narrow`: the picture of the train as a telephone has room for it.
    """
    if place.suffix.lower() == PDF:
        from cogtally.show.drawing import pdf_bytes

        data = pdf_bytes(report_drawing(report, picture))
    else:
        data = report_html(report, picture, narrow).encode("utf-8")
    write_whole({place: data})


def report_html(
    report: Report, picture: draw.Drawing | None = None, narrow: draw.Drawing | None = None
) -> str:
    """Return the page: no script, no network, no other file, every text of the report escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    rooms = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    rooms.filters["isolated"] = isolated
    svgs = [Markup(draw.svg_text(one, inline=True)) if one else None for one in (picture, narrow)]
    return rooms.get_template(TEMPLATE).render(report=report, picture=svgs[0], narrow=svgs[1])


def isolated(text: str) -> Markup:
    """Return a text escaped, names written from right to left set apart from what is round them."""
    from markupsafe import Markup, escape

    found, words, held = Markup(), list(_words(text)), ""
    for place, word in enumerate(words):
        if _runs_left(word) or (held and word.isspace() and _runs_left(words[place + 1])):
            held += word
            continue
        found += (Markup("<bdi>{}</bdi>").format(held) if held else "") + escape(word)
        held = ""
    return found + (Markup("<bdi>{}</bdi>").format(held) if held else "")


def _words(text: str) -> Iterator[str]:
    """Yield the words of a text and the room between them, a word last."""
    for _, letters in groupby(text.rstrip(), key=str.isspace):
        yield "".join(letters)


def _runs_left(word: str) -> bool:
    return any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in word)


def report_drawing(report: Report, picture: draw.Drawing | None = None) -> draw.Drawing:
    """Return the report as pages, on one where it fits; `picture`: the train, of its own size."""
    for high, size in (*product(PICTURES, _SIZES), (PICTURES[0], 1.0)):
        flow = _Flow(size, high)
        _set(report, flow, picture)
        pages = flow.pages()
        if len(pages) == 1:
            break
    return draw.Drawing(pages, report.title, report.headline)


def _set(report: Report, flow: _Flow, picture: draw.Drawing | None) -> None:
    flow.text(report.title, TITLE, bold=True)
    if report.people:
        flow.text("   ".join(f"{name}: {text}" for name, text in report.people), WORDS)
    flow.framed(report.headline)
    for text in report.sentences:
        flow.text(text, WORDS)
    if picture is not None:
        flow.picture(picture.pages[0])
    todo = [*report.remedies, *([report.next] if report.next else [])]
    if todo:
        flow.heading("What to do")
        for text in todo:
            flow.text(text, WORDS)
    flow.together("Cautions", report.cautions)
    flow.heading("Pairs")
    for table in (*report.pairs, report.looks):
        if table is not None:
            flow.table(table)
    if report.checked:
        flow.text(report.checked, WORDS)
    flow.text(f"Not counted: {report.not_counted}", WORDS)
    seen = "   ".join(report.seen) or "Nothing was counted or turned."
    flow.text(f"As it was written down: {seen}", WORDS)
    for title, table in (("What else it may be", report.rivals), ("Why", report.plainly)):
        if table is not None:
            flow.heading(title)
            flow.table(table)
    flow.heading("How this was made")
    flow.text("   ".join(f"{name}: {value}" for name, value in report.facts), WORDS)
    flow.signature()


class _Flow:
    """Things set one under the other, from page to page."""

    def __init__(self, size: float, high: float) -> None:
        self._size, self._high = size, high
        self._pages: list[list[draw.Item]] = [[]]
        self._y = MARGIN

    def pages(self) -> tuple[draw.Page, ...]:
        """Return all pages, each with its number where there are several."""
        found = []
        for number, items in enumerate(self._pages, 1):
            if len(self._pages) > 1:
                foot = f"{number} of {len(self._pages)}"
                box = draw.Box(MARGIN, HEIGHT - MARGIN + 3, WIDTH - MARGIN, HEIGHT - MARGIN + 8)
                items = [*items, *draw.text_box(foot, box, SMALL, anchor="end", colour=draw.GREY)]
            found.append(draw.Page(WIDTH, HEIGHT, tuple(items)))
        return tuple(found)

    def _room(self, height: float) -> None:
        """Go on to the next page where so much is not left on this one."""
        if self._y + height > HEIGHT - MARGIN and self._pages[-1]:
            self._pages.append([])
            self._y = MARGIN

    def text(self, text: str, size: float, *, bold: bool = False, colour: str = draw.INK) -> None:
        """Set a paragraph."""
        size *= self._size
        lines = draw.wrapped_to(text, WIDTH - 2 * MARGIN, size, bold=bold, broken=True)
        self._room(draw.lines_height(len(lines), size))
        items, end = draw.paragraph(
            text, MARGIN, WIDTH - MARGIN, self._y, size, bold=bold, colour=colour
        )
        self._pages[-1] += items
        self._y = end + 0.35 * size

    def heading(self, text: str, more: float = 16.0) -> None:
        """Set a heading, never alone at the foot of a page: `more` has room below it."""
        self._room((2 * HEAD + more) * self._size)
        self._y += 0.7 * HEAD * self._size
        self.text(text, HEAD, bold=True)

    def framed(self, text: str) -> None:
        """Set the answer in a frame."""
        left, right = MARGIN + PADDING, WIDTH - MARGIN - PADDING
        top = self._y + 1
        size = ANSWER * self._size
        items, end = draw.paragraph(text, left, right, top + PADDING, size, bold=True)
        height = end + PADDING - top
        frame = draw.Rectangle(MARGIN, top, WIDTH - 2 * MARGIN, height, draw.Pen(0.6))
        self._pages[-1].append(draw.Group("answer", (frame, *items)))
        self._y = top + height + 2

    def picture(self, page: draw.Page) -> None:
        """Set a picture as wide as the page, where it is not too high then."""
        box = draw.extent_of(page.items)
        scale = min((WIDTH - 2 * MARGIN) / box.width, self._high / box.height, LARGEST)
        self._room(box.height * scale)
        x = (WIDTH - box.width * scale) / 2 - box.left * scale
        self._pages[-1].append(
            draw.Group("train", draw.placed(page.items, x, self._y - box.top * scale, scale))
        )
        self._y += box.height * scale + 2

    def together(self, heading: str, texts: Sequence[str]) -> None:
        """Set a heading and its paragraphs on one page."""
        lines = [draw.wrapped_to(text, WIDTH - 2 * MARGIN, WORDS, broken=True) for text in texts]
        self.heading(
            heading, sum(draw.lines_height(len(found), WORDS) + 0.35 * WORDS for found in lines)
        )
        for text in texts:
            self.text(text, WORDS)

    def table(self, table: Table) -> None:
        """Set a table, its head again on every page that it goes on to."""
        self._room(3 * HEAD)
        self.text(table.caption, WORDS, bold=True)
        size = SMALL * self._size
        widths = _widths([table.head, *table.rows], size)
        self._row(table.head, widths, bold=True, rule=0.5)
        for row in table.rows:
            cells = zip(row, widths, strict=True)
            lines = [draw.wrapped_to(cell, wide, size, broken=True) for cell, wide in cells]
            height = max(draw.lines_height(len(some), size) for some in lines) + LEADING
            if self._y + height > HEIGHT - MARGIN:
                self._room(HEIGHT)
                self._row(table.head, widths, bold=True, rule=0.5)
            self._row(row, widths)
        if table.note:
            self.text(table.note, WORDS)
        self._y += 1

    def signature(self) -> None:
        """Set a line to sign on, and one for the day."""
        self._room(14.0)
        self._y += 9.0
        for name, start, end in (
            ("signed", MARGIN, 0.6 * WIDTH),
            ("date", 0.65 * WIDTH, 0.9 * WIDTH),
        ):
            foot = self._y
            items, _ = draw.paragraph(name, start, end, foot + 0.6, SMALL * self._size)
            self._pages[-1] += [draw.Line((start, foot), (end, foot), draw.Pen(0.25)), *items]
        self._y += 5.0

    def _row(
        self, row: Sequence[str], widths: Sequence[float], *, bold: bool = False, rule: float = 0.15
    ) -> None:
        x, end, size = MARGIN, self._y, SMALL * self._size
        for number, (cell, width) in enumerate(zip(row, widths, strict=True)):
            strong = bold or number == 0
            if cell:
                items, foot = draw.paragraph(cell, x, x + width, self._y, size, bold=strong)
                self._pages[-1] += items
                end = max(end, foot)
            x += width + GAP
        end = max(end, self._y + draw.lines_height(1, size)) + LEADING / 2
        self._pages[-1].append(draw.Line((MARGIN, end), (WIDTH - MARGIN, end), draw.Pen(rule)))
        self._y = end + LEADING / 2


def _widths(rows: Sequence[Sequence[str]], size: float) -> list[float]:
    """Return the width of each column: what its cells need, the widest cut to what is left."""
    needed = [
        max(draw.text_width(row[i], size, bold=i == 0 or row is rows[0]) for row in rows) + 0.5
        for i in range(len(rows[0]))
    ]
    room = WIDTH - 2 * MARGIN - GAP * (len(needed) - 1)
    while sum(needed) > room:
        widest = max(range(len(needed)), key=needed.__getitem__)
        others = sum(needed) - needed[widest]
        second = max((w for i, w in enumerate(needed) if i != widest), default=0.0)
        cut = max(room - others, min(second, needed[widest]) * 0.9, LEAST_COLUMN)
        if cut >= needed[widest]:
            break
        needed[widest] = cut
    return needed
