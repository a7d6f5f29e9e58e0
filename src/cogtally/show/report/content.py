"""What stands on the page for a customer's file, whatever the page is made of.

What an answer says is left to the evidence, the page itself to `html` and `pdf`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from cogtally.evidence.reading import Account, Answer, label
from cogtally.show.box import (
    Shelf,
    box_name,
    check_cells,
    conclusion,
    next_lines,
    odds,
    remedy_text,
    sentences,
)
from cogtally.show.report.tables import look_cells, pair_cells, rival_cells
from cogtally.show.screen import CAUTIONS, plain

TITLE = "Gearbox report"
#: Characters of a catalog's digest that are shown: enough to tell two catalogs apart.
DIGEST_SHOWN = 12


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

    `seen`: the words as they were written. `facts`: names and values of the foot.
    """

    title: str
    headline: str
    sentences: tuple[str, ...]
    pairs: Table | None
    looks: Table | None
    checked: Table | None
    remedies: tuple[str, ...]
    rivals: Table | None
    account: Table | None
    seen: tuple[str, ...]
    not_counted: str
    next: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


def report_of(answer: Answer, made: date, digest: str, shelf: Shelf | None = None) -> Report:
    """Return the report of one box, made on a day, by the catalog of that digest.

    `shelf` is what is for sale, where a stock was looked through.
    """
    first, *others = [plain(text) for text in sentences(answer)]
    return Report(
        title=TITLE,
        headline=first,
        sentences=tuple(others),
        pairs=_pairs(answer),
        looks=_looks(answer),
        checked=_checked(answer),
        remedies=tuple(remedy_text(answer, remedy, shelf) for remedy in answer.remedies),
        rivals=_rivals(answer),
        account=None if answer.account is None else _account(answer.account),
        seen=tuple(plain(one.text) for one in (*answer.seen.words, *answer.seen.looks)),
        not_counted=_not_counted(answer),
        next=" ".join(next_lines(answer, sys.maxsize)),
        facts=_facts(answer, made, digest),
        cautions=CAUTIONS,
    )


def _pairs(answer: Answer) -> Table | None:
    if not answer.lines:
        return None
    head, rows = pair_cells(answer)
    return _used(Table("Counted teeth", head, tuple(rows)))


def _looks(answer: Answer) -> Table | None:
    if not answer.looks:
        return None
    head, rows = look_cells(answer)
    return _used(Table("Marks and features", head, tuple(rows)))


def _checked(answer: Answer) -> Table | None:
    """The verification sheet: each wheel of a set as agreeing, disagreeing or not counted."""
    if answer.checked is None:
        return None
    head, rows = check_cells(answer.checked)
    name = box_name(answer.catalog, answer.checked.family, (answer.checked.set,))
    return Table(f"Beside {name}", head, tuple(rows), conclusion(answer))


def _rivals(answer: Answer) -> Table | None:
    rows = tuple((plain(text), share) for share, text in rival_cells(answer))
    return Table("Other answers", ("answer", "probability"), rows) if rows else None


def _account(account: Account) -> Table:
    counted = [row for row in account.rows if row.bits != 0.0 or "not counted" not in row.because]
    sides = f"{label(account.headline)} against {label(account.rival)}"
    whole = "as far as counted" if account.so_far else "for the whole box"
    total = account.total
    side = "for" if total >= 0 else "against"
    return Table(
        plain(f"Why: {sides}, {whole}"),
        ("seen", "bits", "reason"),
        tuple((plain(row.seen), f"{row.bits:+.2f}", plain(row.because)) for row in counted),
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
