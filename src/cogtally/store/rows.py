"""Rows that are checked as they are read: by a digest of each, and by what all of a table come to.

A digest tells a row that was spoilt; the number of a table's rows and their digests taken together,
kept in `totals`, tell one that is missing. What is in the rows is left to the rooms that own them.
A table whose key has several columns is in parts by the first of them: the sets of a family.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.store.file import damaged

if TYPE_CHECKING:
    from sqlite3 import Connection

    from cogtally.gears.errors import UserError

DIGEST, TOTALS = "digest", "totals"
#: The part that stands for a whole table.
WHOLE = ""
#: So many values are asked for at once; SQLite takes 999 in any version.
_AT_ONCE = 500

#: How many rows there are, and their digests taken together.
Total = tuple[int, int]
_NONE: Total = (0, 0)


@dataclass(frozen=True, slots=True)
class Layout:
    """A table's columns in their order and their kinds, without the digest; its key.

    `at`: where the digest stands among the columns.
    """

    table: str
    columns: tuple[str, ...]
    kinds: tuple[str, ...]
    key: tuple[str, ...]
    at: int

    @property
    def listed(self) -> str:
        """The columns as a statement lists them."""
        return listed(self.columns)

    @property
    def is_key(self) -> str:
        """The condition that a row has a key."""
        return " AND ".join(f'"{column}" = ?' for column in self.key)

    def key_of(self, row: Sequence[Any]) -> tuple[Any, ...]:
        """Return the key of a row that has all columns."""
        return tuple(row[self.columns.index(column)] for column in self.key)

    def parts_of(self, key: Sequence[Any]) -> tuple[str, ...]:
        """Return what a row, by its key, counts in: the whole table, and its part if in parts."""
        return (WHOLE, str(key[0])) if len(self.key) > 1 else (WHOLE,)

    def parted(self, row: tuple[Any, ...]) -> tuple[tuple[Any, ...], int]:
        """Return a row as the table holds it as its content and its digest."""
        return row[: self.at] + row[self.at + 1 :], row[self.at]

    def stored(self, row: Sequence[Any]) -> tuple[Any, ...]:
        """Return the values of a row as the table gives them back: 1 is 1.0 in a column of REAL."""
        return tuple(
            float(value) if kind == "REAL" and value is not None else value
            for kind, value in zip(self.kinds, row, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Fault:
    """Something in a table that is not as it was written: a row by its key, or missing rows."""

    table: str
    key: tuple[Any, ...]
    says: str

    @property
    def named(self) -> str:
        """The row as a person finds it: `alder-4/wide of sets`."""
        return f"{'/'.join(map(str, self.key))} of {self.table}" if self.key else self.table


def layout_of(book: Connection, table: str) -> Layout:
    """Return how a table is laid out; its digest stands at -1 where it has none yet."""
    asked = "SELECT name, type, pk FROM pragma_table_info(?) ORDER BY cid"
    found = book.execute(asked, [table]).fetchall()
    names = [name for name, *_ in found]
    keys = sorted((place, name) for name, _, place in found if place)
    return Layout(
        table,
        tuple(name for name in names if name != DIGEST),
        tuple(kind for name, kind, _ in found if name != DIGEST),
        tuple(name for _, name in keys),
        names.index(DIGEST) if DIGEST in names else -1,
    )


def digester() -> Callable[..., int]:
    """Return what gives the digest of a row's values, in the order of its columns.

    It is 63 bits of BLAKE2b over the values as Python writes them in ASCII, which no version of it
    writes otherwise.
    """
    from hashlib import blake2b

    def digest(*values: Any) -> int:
        data = blake2b(ascii(values).encode(), digest_size=8).digest()
        return int.from_bytes(data, "big") >> 1

    return digest


def read_rows(
    book: Connection,
    path: Path,
    table: str,
    wanted: Sequence[Any] | None = None,
    *,
    order: str = "",
) -> Iterator[tuple[Any, ...]]:
    """Yield the rows of a table, each with all columns but the digest; all of them are as written.

    `wanted`: those alone with these values in the first column of the key; `order`: columns.
    Raises UserError, at the latest at the end, where a row was spoilt or one is missing.
    """
    layout = layout_of(book, table)
    ordered = f" ORDER BY {order}" if order else ""
    if wanted is None:
        yield from _checked(book, path, layout, ordered, (), None)
        return
    asked = list(dict.fromkeys(wanted))
    for first in range(0, len(asked), _AT_ONCE):
        some = asked[first : first + _AT_ONCE]
        where = f' WHERE "{layout.key[0]}" IN ({", ".join("?" * len(some))})'
        yield from _checked(book, path, layout, where + ordered, some, some)


def read_records(
    book: Connection,
    path: Path,
    table: str,
    wanted: Sequence[Any] | None = None,
    *,
    order: str = "",
) -> Iterator[dict[str, Any]]:
    """Yield rows as `read_rows` does, each as a dictionary by column."""
    columns = layout_of(book, table).columns
    for row in read_rows(book, path, table, wanted, order=order):
        yield dict(zip(columns, row, strict=True))


def _checked(
    book: Connection,
    path: Path,
    layout: Layout,
    behind: str,
    values: Sequence[Any],
    wanted: Sequence[Any] | None,
) -> Iterator[tuple[Any, ...]]:
    digest_of = digester()
    place = layout.columns.index(layout.key[0])
    by_part = wanted is not None and len(layout.key) > 1
    found: dict[str, Total] = {}
    for row in book.execute(f'SELECT * FROM "{layout.table}"{behind}', values):
        content, digest = layout.parted(row)
        if digest_of(*content) != digest:
            raise _spoilt(path, Fault(layout.table, layout.key_of(content), ""))
        count_in(found, [str(content[place]) if by_part else WHOLE], digest)
        yield content
    if wanted is None or by_part:
        parts = [WHOLE] if wanted is None else [str(value) for value in wanted]
        kept = _totals(book, layout.table, parts)
        for part in parts:
            if found.get(part, _NONE) != kept.get(part, _NONE):
                raise _lost(path, layout.table, part)
    elif (count := found.get(WHOLE, _NONE)[0]) < len(wanted):
        _check_absent(book, path, layout, values, count)


def _check_absent(
    book: Connection, path: Path, layout: Layout, wanted: Sequence[Any], found: int
) -> None:
    """Raise UserError where rows that were not found are there, or may have been lost."""
    marks = ", ".join("?" * len(wanted))
    asked = (
        f'SELECT count(*), count(CASE WHEN "{layout.key[0]}" IN ({marks}) THEN 1 END)'
        f' FROM "{layout.table}" NOT INDEXED'
    )
    count, there = book.execute(asked, wanted).fetchone()
    if (count, there) != (total_of(book, layout.table)[0], found):
        raise _lost(path, layout.table, WHOLE)


def row_of(
    book: Connection, path: Path, layout: Layout, key: Mapping[str, Any]
) -> dict[str, Any] | None:
    """Return the row with a key (a whole row will do) by column, or None.

    Raises UserError where it is not as it was written.
    """
    values = [key[column] for column in layout.key]
    asked = f'SELECT * FROM "{layout.table}" WHERE {layout.is_key}'
    row = book.execute(asked, values).fetchone()
    if row is None:
        return None
    content, digest = layout.parted(row)
    if digester()(*content) != digest:
        raise _spoilt(path, Fault(layout.table, layout.key_of(content), ""))
    return dict(zip(layout.columns, content, strict=True))


def total_of(book: Connection, table: str, part: str = WHOLE) -> Total:
    """Return how many rows a table, or a part of it, has, and their digests taken together."""
    return _totals(book, table, [part]).get(part, _NONE)


def count_in(totals: dict[str, Total], parts: Sequence[str], digest: int, each: int = 1) -> None:
    """Take a row, by its digest, into some totals; out of them if `each` is -1."""
    for part in parts:
        count, digests = totals.get(part, _NONE)
        totals[part] = (count + each, digests ^ digest)


def add_total(book: Connection, table: str, part: str, count: int, digest: int) -> None:
    """Take rows that came or went (a negative count) into the total of a table or a part of it."""
    before, digests = total_of(book, table, part)
    book.execute(
        f"INSERT INTO {TOTALS} VALUES (?, ?, ?, ?) ON CONFLICT (place, part)"
        " DO UPDATE SET row_count = excluded.row_count, digests = excluded.digests",
        [table, part, before + count, digests ^ digest],
    )


def digested_tables(book: Connection) -> list[Layout]:
    """Return all tables whose rows have digests; none in a book of before there were any."""
    names = [
        name
        for (name,) in book.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        if not name.startswith("sqlite_")
    ]
    return [layout for name in sorted(names) if (layout := layout_of(book, name)).at >= 0]


def seal_all(book: Connection) -> None:
    """Work out the digest of every row, and what each table comes to, from what stands there."""
    digest_of = digester()
    tables = digested_tables(book)
    if not tables:
        return
    book.execute(f"DELETE FROM {TOTALS}")
    for layout in tables:
        book.execute(f'UPDATE "{layout.table}" SET {DIGEST} = digest_of({layout.listed})')
        found: dict[str, Total] = {}
        for content in book.execute(f'SELECT {layout.listed} FROM "{layout.table}"'):
            count_in(found, layout.parts_of(layout.key_of(content)), digest_of(*content))
        book.executemany(
            f"INSERT INTO {TOTALS} VALUES (?, ?, ?, ?)",
            [(layout.table, part, *total) for part, total in found.items()],
        )


def faults(book: Connection) -> list[Fault]:
    """Return all that is not as it was written: in the file, in rows, and rows that are missing."""
    said = [row[0] for row in book.execute("PRAGMA integrity_check(10)") if row[0] != "ok"]
    found = [Fault("the file", (), text.replace("\n", " ")) for text in said]
    for layout in digested_tables(book):
        digest_of = digester()
        there: dict[str, Total] = {}
        for row in book.execute(f'SELECT * FROM "{layout.table}" NOT INDEXED'):
            content, digest = layout.parted(row)
            key = layout.key_of(content)
            if digest_of(*content) != digest:
                found.append(Fault(layout.table, key, "it is not as it was written"))
            count_in(there, layout.parts_of(key), digest)
        kept = _totals(book, layout.table)
        for part in sorted({*there, *kept}):
            if there.get(part, _NONE) != kept.get(part, _NONE):
                says = "rows are missing, or are not those that were written"
                found.append(Fault(layout.table, (part,) if part else (), says))
    return found


def refuse_faults(book: Connection, path: Path) -> None:
    """Raise UserError for the first row that is not as it was written, if any is."""
    for fault in islice(faults(book), 1):
        raise _spoilt(path, fault)


def listed(columns: Iterable[str]) -> str:
    """Return columns as a statement lists them."""
    return ", ".join(f'"{column}"' for column in columns)


def insertion(table: str, columns: Collection[str]) -> str:
    """Return the statement that writes a new row of some columns."""
    marks = ", ".join("?" * len(columns))
    return f'INSERT INTO "{table}" ({listed(columns)}) VALUES ({marks})'


def _totals(book: Connection, table: str, parts: Sequence[str] | None = None) -> dict[str, Total]:
    """What some parts of a table come to, or all of them."""
    asked = f"SELECT part, row_count, digests FROM {TOTALS} WHERE place = ?"
    if parts is not None:
        asked += f" AND part IN ({', '.join('?' * len(parts))})"
    return {part: (n, total) for part, n, total in book.execute(asked, [table, *(parts or ())])}


def _spoilt(path: Path, fault: Fault) -> UserError:
    return damaged(path, f"{fault.named} is not as it was written")


def _lost(path: Path, table: str, part: str) -> UserError:
    where = f"{part} of {table}" if part else table
    return damaged(path, f"{where}: a row is missing, or is not the one that was written")
