"""What stands on the page for a customer's file, whatever the page is made of.

What an answer says is left to the evidence, the page itself to `page`.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from cogtally.evidence.posterior import NEW, UNCATALOGUED
from cogtally.evidence.reading import Account, Answer, Row, label
from cogtally.show.box import (
    DIFFERS,
    Shelf,
    column_head,
    conclusion,
    look_row,
    next_lines,
    odds,
    pair_remarks,
    pair_row,
    remedy_text,
    rival_text,
    sentences,
)
from cogtally.show.screen import CAUTIONS, per_cent, plain

TITLE = "Gearbox report"
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
    that agree, and those not counted; `checked` says how many.
    `plainly`: the account without its bits. `seen`: the words
    as they were written. `facts`: names and values of the foot.
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
    shelf: Shelf | None = None,
    people: Mapping[str, str | None] | None = None,
) -> Report:
    """Return the report of one box, made on a day, by the catalog of that digest.

    `shelf` is what is for sale, where a stock was looked through; `people`: who it is for, by what
    each is called.
    """
    first, *others = [plain(text) for text in sentences(answer)]
    return Report(
        title=TITLE,
        people=tuple((name, plain(text)) for name, text in (people or {}).items() if text),
        headline=first,
        sentences=tuple(others),
        pairs=_pairs(answer),
        looks=_looks(answer),
        checked="" if answer.checked is None else conclusion(answer),
        remedies=tuple(remedy_text(answer, remedy, shelf) for remedy in answer.remedies),
        rivals=_rivals(answer),
        plainly=None if answer.account is None else _plainly(answer.account),
        account=None if answer.account is None else _account(answer.account),
        seen=tuple(plain(one.text) for one in (*answer.seen.words, *answer.seen.looks)),
        not_counted=_not_counted(answer),
        next=" ".join(next_lines(answer, sys.maxsize)),
        facts=_facts(answer, made, digest),
        cautions=CAUTIONS,
    )


def _pairs(answer: Answer) -> tuple[Table, ...]:
    """Return the pairs in three tables: what disagrees comes first."""
    nearest = answer.verdict.leaning in (NEW, UNCATALOGUED)
    printed = bool(answer.beside) and not any(known.is_counted for known in answer.beside)
    beside = plain(column_head(answer)) if answer.beside else ""
    listed = f"{beside.removesuffix(' has').removesuffix(' have')}: ratio" if beside else ""
    head = ("gear", "counted", "sum", "ratio", beside, listed, "remarks")
    sorted_out: dict[str, list[tuple[str, ...]]] = {name: [] for name in _GROUPS}
    for line in answer.lines:
        remarks = pair_remarks(line, nearest, printed)
        row = (*pair_row(line), plain("; ".join(remarks)))
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
    head = ("looked at", "seen", plain(column_head(answer)), "remarks")
    rows = [(*look_row(line), DIFFERS if line.differs else "") for line in answer.looks]
    return _used(Table("Marks and features", head, tuple(rows)))


def _rivals(answer: Answer) -> Table | None:
    rows = tuple(
        (plain(rival_text(answer, rival, sys.maxsize)), per_cent(rival.share.probability))
        for rival in answer.rivals
    )
    return Table("Other answers", ("answer", "probability"), rows) if rows else None


def _sides(account: Account) -> str:
    sides = f"{label(account.headline)} against {label(account.rival)}"
    return plain(f"{sides}, {'as far as counted' if account.so_far else 'for the whole box'}")


def _told(account: Account) -> list[Row]:
    return [row for row in account.rows if row.bits != 0.0 or "not counted" not in row.because]


def _plainly(account: Account) -> Table:
    """The account in words: what speaks for the answer, what against it, and how much."""
    rows = []
    for row in _told(account):
        much = next((word for least, word in _MUCH if abs(row.bits) >= least), "")
        side = "for" if row.bits > 0 else "against"
        said = f"{much} {side} it".strip() if abs(row.bits) >= LEAST_TOLD else "for neither"
        rows.append((plain(row.seen), said, plain(row.because)))
    return Table(f"What speaks for {_sides(account)}", ("seen", "speaks", "reason"), tuple(rows))


def _account(account: Account) -> Table:
    total = account.total
    side = "for" if total >= 0 else "against"
    return Table(
        f"Why: {_sides(account)}",
        ("seen", "bits", "reason"),
        tuple((plain(r.seen), f"{r.bits:+.2f}", plain(r.because)) for r in _told(account)),
        f"Together {total:+.2f} bits, or {odds(total)} {side}. One bit doubles the odds.",
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
