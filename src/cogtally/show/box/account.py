"""The account of an answer: a row and a bar for each thing seen, and their sum.

The rows and their bits are left to `evidence.account`.
"""

from __future__ import annotations

from math import log2

from rich.text import Text

from cogtally.evidence.account import Account, Row
from cogtally.evidence.reasons import label
from cogtally.show.screen.console import STRONG, plain, wrapped

#: The widest bar on either side of the middle, in columns.
REACH = 8
BITS = 8
INDENT = 2
#: From so many bits on the odds are only said to be over a million.
MOST_ODDS = log2(1_000_000)


def account_lines(account: Account, width: int) -> list[Text]:
    """Return the account as lines of at most `width` columns."""
    sides = f"{label(account.headline)} against {label(account.rival)}"
    whole = "as far as counted" if account.so_far else "for the whole box"
    head = f"Why: {sides}, {whole}, in bits (1 bit doubles the odds)"
    lines = [Text(line, style=STRONG) for line in wrapped(plain(head), width)]
    counted = [row for row in account.rows if row.bits != 0.0 or "not counted" not in row.because]
    left = [row.seen for row in account.rows if row not in counted]
    largest = max([abs(row.bits) for row in counted], default=1.0) or 1.0
    for row in counted:
        lines += _row(row, largest, width)
    total = account.total
    lines.append(Text(f"{total:>+{BITS}.2f}  total: {odds(total)} {_side(total)}"))
    if left:
        text = f"Not counted, and worth 0 bits either way: {', '.join(left)}."
        lines += [Text(line) for line in wrapped(plain(text), width)]
    return lines


def odds(bits: float) -> str:
    """Return bits as odds, whichever side they are on: `3.5 to 1`, `1,240 to 1`."""
    if abs(bits) >= MOST_ODDS:
        return "over 1,000,000 to 1"
    against_one = 2 ** abs(bits)
    if against_one < 100:
        return f"{against_one:.3g} to 1"
    return f"{float(f'{against_one:.3g}'):,.0f} to 1"


def _side(total: float) -> str:
    return "for" if total >= 0 else "against"


def _row(row: Row, largest: float, width: int) -> list[Text]:
    """One row: bits, a bar that grows to the right for and to the left against, the reason."""
    size = round(REACH * abs(row.bits) / largest)
    left = "-" * size if row.bits < 0 else ""
    right = "+" * size if row.bits > 0 else ""
    head = f"{row.bits:>+{BITS}.2f} {left:>{REACH}}|{right:<{REACH}} "
    room = width - len(head)
    text = wrapped(plain(f"{row.seen}: {row.because}"), room, INDENT)
    return [Text(head + text[0]), *(Text(" " * len(head) + more) for more in text[1:])]
