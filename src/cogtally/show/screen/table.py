"""How a table of plain cells is set out in lines, and cut into several where it is too wide.

What stands in the cells is left to each view.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.text import Text

from cogtally.show.screen.console import STRONG

GAP = "  "


def table_lines(
    columns: Sequence[str], rows: Iterable[Sequence[str]], left: Sequence[int] = (0,)
) -> list[Text]:
    """Return a table as lines; the columns numbered in `left` are set left, the others right."""
    cells = [columns, *rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(columns))]
    found = []
    for row in cells:
        set_out = [
            cell.ljust(wide) if i in left else cell.rjust(wide)
            for i, (cell, wide) in enumerate(zip(row, widths, strict=True))
        ]
        found.append(Text(GAP.join(set_out).rstrip(), style=STRONG if row is columns else ""))
    return found


def fits(lines: Iterable[Text], width: int) -> bool:
    """Tell whether no line is wider than `width` columns."""
    return all(line.cell_len <= width for line in lines)


def tables_lines(
    columns: Sequence[str], rows: Sequence[Sequence[str]], width: int
) -> list[list[Text]]:
    """Return a table, or as many as are needed to keep to `width`, each with the first column."""
    found: list[list[Text]] = []
    first = 1
    while first < len(columns):
        last = len(columns)
        while True:
            chosen = (0, *range(first, last))
            lines = table_lines(
                [columns[i] for i in chosen], [[row[i] for i in chosen] for row in rows]
            )
            if fits(lines, width) or last == first + 1:
                break
            last -= 1
        found.append(lines)
        first = last
    return found
