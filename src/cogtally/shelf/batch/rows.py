"""Rows of items to answers, one by one: loose pieces and whole boxes.

How rows are read is left to `sheet`, the answers to the evidence, how they are written to
`show`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cogtally.catalog.draft.values import is_name
from cogtally.catalog.model import Catalog
from cogtally.evidence.loose import AlikeShare, loose_posterior
from cogtally.evidence.loose_rings import counted_teeth
from cogtally.evidence.loose_views import (
    LooseVerdict,
    Off,
    best_place,
    find_role,
    loose_verdict,
)
from cogtally.gears.errors import UserError
from cogtally.gears.looks import SeenPiece, parse_piece
from cogtally.gears.notation import parse_seen
from cogtally.gears.printed import shown
from cogtally.gears.trains import ROLES_OF_THREE, pair_of, role_of
from cogtally.shelf.batch.sheet import ITEM, Row, refuse_date

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer, Verdict
    from cogtally.gears.notation import Seen

COUNTS, SEEN, ROLE, FAMILY, MARK, FEATURE = "counts", "seen", "role", "family", "mark", "feature"
PIECE_COLUMNS = (ITEM, COUNTS, ROLE, MARK, FEATURE)
BOX_COLUMNS = (ITEM, SEEN, FAMILY, MARK, FEATURE)
#: Several marks or features in one cell are parted by it.
PARTED = ";"
#: Answers of a piece are listed from here on, and at most so many.
LEAST_LISTED, MOST_LISTED = 0.001, 10
#: So many roles, as somebody wrote them, are remembered.
ROLES_KEPT = 256


@dataclass(frozen=True, slots=True)
class PieceFound:
    """What one loose piece is: the verdict, and the leading types alike in teeth, falling.

    `off` is where the counts are not those of the first of them.
    """

    verdict: LooseVerdict
    leading: tuple[AlikeShare, ...]
    off: tuple[Off, ...]
    uncatalogued: float
    steady: float


class Pieces:
    """Loose pieces asked of one catalog; `role` is that of rows which name none."""

    def __init__(self, catalog: Catalog, role: str | None = None) -> None:
        self.catalog = catalog
        self._role = None if role is None else find_role(catalog, role)
        self._roles: dict[str, str] = {}

    def check(self, columns: Sequence[str]) -> UserError | None:
        """Return what is wrong with the columns of a file, or None."""
        for column in columns:
            if column not in PIECE_COLUMNS:
                return unknown_column(column, PIECE_COLUMNS)
        if {COUNTS, MARK, FEATURE}.isdisjoint(columns):
            return UserError("the column is missing", COUNTS, f"begin with {ITEM},{COUNTS}")
        return None

    def answer(self, row: Row) -> PieceFound:
        """Say what the piece of a row is; raise UserError for a row that cannot be read."""
        if row.fault is not None:
            raise row.fault
        cells = row.cells
        counts = cells.get(COUNTS, "")
        refuse_date(counts, COUNTS)
        seen = _with_looks(parse_piece(counts.split()), cells.get(MARK), cells.get(FEATURE))
        if not (any(seen.places) or seen.marks or seen.features):
            raise UserError("nothing was counted", COUNTS, "write a count: 28 24 19 _ 12")
        role = self._role_of(cells[ROLE]) if ROLE in cells else self._role
        return self._found(seen, role)

    def _found(self, seen: SeenPiece, role: str | None) -> PieceFound:
        also = None
        if seen.marks or seen.features:
            from cogtally.evidence.looked import resolved_piece
            from cogtally.evidence.loose_looks import also_of

            also = also_of(self.catalog, resolved_piece(self.catalog, seen))
        posterior = loose_posterior(self.catalog, seen, role, also=also, many=True)
        leading = posterior.leading(MOST_LISTED, LEAST_LISTED) or posterior.leading(1)
        outside = posterior.uncatalogued
        if not leading:
            verdict = loose_verdict(outside, None, lambda: 0.0)
            return PieceFound(verdict, (), (), outside, posterior.steady)
        group = leading[0].group
        verdict = loose_verdict(
            outside,
            leading[0].probability,
            lambda: posterior.of_piece(group.family, group.piece.name),
        )
        counted = [counted_teeth(counts) for counts in seen.places]
        _, off = best_place(seen, counted, group.teeth)
        return PieceFound(verdict, leading, off, outside, posterior.steady)

    def _role_of(self, text: str) -> str:
        found = self._roles.get(text)
        if found is None:
            with _in_column(ROLE, text):
                found = find_role(self.catalog, text)
            if len(self._roles) < ROLES_KEPT:
                self._roles[text] = found
        return found


@dataclass(frozen=True, slots=True)
class BoxFound:
    """What one whole box is, and nothing beside it."""

    verdict: Verdict


class Boxes:
    """Whole boxes asked of one catalog; `family` is that of rows which name none.

    `briefly`: only the verdict of each is worked out.
    """

    def __init__(
        self, catalog: Catalog, family: str | None = None, *, briefly: bool = False
    ) -> None:
        from cogtally.catalog.find import find_family

        self.catalog = catalog
        self._family = None if family is None else find_family(catalog, family).id
        self._briefly = briefly
        self._pairs = {name for f in catalog.families for name in f.train.pairs}

    def check(self, columns: Sequence[str]) -> UserError | None:
        """Return what is wrong with the columns of a file, or None."""
        for column in columns:
            if not (column in BOX_COLUMNS or self._is_counted(column)):
                return unknown_column(column, (*BOX_COLUMNS, "a pair (3)", "a wheel (3.driver)"))
        if {ITEM, FAMILY}.issuperset(columns):
            return UserError("the column is missing", SEEN, f"begin with {ITEM},{SEEN}")
        return None

    def answer(self, row: Row) -> Answer | BoxFound:
        """Say what the box of a row is; raise UserError for a row that cannot be read."""
        seen, family = self._read(row)
        if self._briefly:
            from cogtally.evidence.assembled import posterior
            from cogtally.evidence.reading import judge

            found = posterior(self.catalog, seen, family)
            return BoxFound(judge(self.catalog, found, seen))
        from cogtally.evidence.reading import identify

        return identify(self.catalog, seen, family=family)

    def _read(self, row: Row) -> tuple[Seen, str | None]:
        """What was seen on the box of a row, and the id of the one family that is asked about."""
        from cogtally.catalog.find import find_family

        if row.fault is not None:
            raise row.fault
        words = row.cells.get(SEEN, "").split()
        refuse_date(row.cells.get(SEEN, ""), SEEN)
        for column, cell in row.cells.items():
            if column not in BOX_COLUMNS:
                refuse_date(cell, column)
                words.append(f"{column}={cell}")
        seen = parse_seen(words)
        marks, features = row.cells.get(MARK), row.cells.get(FEATURE)
        if marks or features:
            from cogtally.evidence.looked import resolved
            from cogtally.gears.looks import with_looks

            seen = resolved(self.catalog, with_looks(seen, parts(marks), parts(features)))
        elif not (seen.counts or seen.turns):
            raise UserError("nothing was counted", mend="write a count: input=17/28")
        family, only = self._family, row.cells.get(FAMILY)
        if only is not None:
            with _in_column(FAMILY, only):
                family = find_family(self.catalog, only).id
        if seen.turns:
            from cogtally.evidence.overdrive_turns import refuse_overdrive_turns

            refuse_overdrive_turns(self.catalog, seen, family)
        return seen, family

    def _is_counted(self, column: str) -> bool:
        if role_of(column) in ROLES_OF_THREE:
            return is_name(pair_of(column))
        return column in self._pairs or (column.isascii() and column.isdigit() and is_name(column))


@contextmanager
def _in_column(column: str, cell: str) -> Iterator[None]:
    """Tell the column of a cell in an error, where an option of that name would be told."""
    try:
        yield
    except UserError as error:
        raise UserError(error.sentence, f"{column} {shown(cell)}", error.mend) from error


def _with_looks(seen: SeenPiece, marks: str | None, features: str | None) -> SeenPiece:
    if not (marks or features):
        return seen
    from cogtally.gears.looks import piece_with_looks

    return piece_with_looks(seen, parts(marks), parts(features), (MARK, FEATURE))


def parts(cell: str | None) -> list[str]:
    """Return the marks or features of one cell."""
    return [part.strip() for part in (cell or "").split(PARTED) if part.strip()]


def unknown_column(column: str, known: Sequence[str]) -> UserError:
    """Return the error that a column is none of those known."""
    from cogtally.catalog.find import nearest

    near = nearest(column, known) if column else []
    mend = f"did you mean {' or '.join(near)}?" if near else f"columns are {', '.join(known)}"
    sentence = "there is no such column" if column else "a column has no name"
    return UserError(sentence, shown(column) if column else "the header", mend)
