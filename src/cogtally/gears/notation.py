"""How counts, pairs and turn tests are written and read: one parser for everywhere.

What the counts mean for an answer is left to the evidence, the single step forward to `scanner`.

    word   = pair | wheel | turn
    pair   = NAME "=" count "/" count ["/" count]        driver/driven, driver/idler/driven
    wheel  = NAME "." ("driver" | "idler" | "driven") "=" count
    count  = "_" | 4…200 ["u"] ["x" 1…99]                u: unsure; x3: counted three times
    turn   = NAME {"+" NAME} "@" turns ":" turns ["/held"]
    turns  = decimal | fraction | whole "+" fraction     1.1   7/24   1+1/6
    NAME   = letters, digits, "-", at most 20
"""

from __future__ import annotations

from collections.abc import Iterable

from cogtally.gears.errors import UserError
from cogtally.gears.scanner import FORMS, Scanner
from cogtally.gears.trains import ROLES_OF_THREE, is_numbered, wheel_names
from cogtally.gears.words import (
    FEWEST_TEETH,
    LEAST_TURN_RATIO,
    LONGEST_NAME,
    LONGEST_NUMBER,
    MOST_TEETH,
    MOST_TIMES,
    MOST_TURN_RATIO,
    Count,
    Seen,
    Turn,
    Word,
)

__all__ = [
    "FEWEST_TEETH",
    "LEAST_TURN_RATIO",
    "LONGEST_NAME",
    "LONGEST_NUMBER",
    "MOST_TEETH",
    "MOST_TIMES",
    "MOST_TURN_RATIO",
    "Count",
    "Seen",
    "Turn",
    "Word",
    "parse_chain",
    "parse_count",
    "parse_name",
    "parse_path",
    "parse_seen",
    "parse_word",
    "written_count",
]


def parse_seen(words: Iterable[str]) -> Seen:
    """Read all words of a box; raise UserError at the first that cannot be read."""
    return Seen(tuple(parse_word(word) for word in words))


def parse_word(text: str) -> Word:
    """Read one word of the notation; raise UserError with the character where it goes wrong."""
    if not text:
        raise UserError("an empty word was read", mend=FORMS)
    scan = Scanner(text)
    name = scan.name()
    if scan.take("="):
        return _pair(scan, name)
    if scan.take("."):
        return _wheel(scan, name)
    if scan.peek() in ("@", "+"):
        return _turn(scan, name)
    loose = "; counts of a loose piece go to 'cogtally piece'" if is_numbered(text) else ""
    raise scan.error("'=', '.' or '@' is missing after the name", FORMS + loose)


def parse_count(text: str, wheel: str) -> Count | None:
    """Read one count (`24`, `24u`, `24ux3`; None for `_`) of `wheel`; raise UserError."""
    scan = Scanner(text)
    count = scan.count(wheel)
    scan.end("a count is a number of teeth, u for unsure, x3 for three times: 24, 24u, 24x3, _")
    return count


def parse_name(text: str, option: str = "") -> str:
    """Read the name of a gear or pair that stands alone; raise UserError.

    Where the text was given to an `option`, its name stands before the text in an error.
    """
    scan = Scanner(text, option)
    mend = "a name has letters, digits and '-', for example 4 or R1"
    name = scan.name(mend)
    scan.end(mend)
    return name


def parse_chain(text: str, pair: str, mend: str, option: str = "") -> Word:
    """Read the counts of `pair` written without its name, `9/41`; raise UserError with `mend`."""
    return _counts(Scanner(text, option), pair, mend)


def parse_path(text: str, option: str = "") -> tuple[str, tuple[str, ...]]:
    """Read a spelled-out path, `R=input,R1,R2`, as a gear and its pairs; raise UserError."""
    mend = "write GEAR=PAIR,PAIR, for example R=input,R1,R2"
    scan = Scanner(text, option)
    gear = scan.name(mend)
    if not scan.take("="):
        raise scan.error("'=' is missing after the gear", mend)
    pairs = [scan.name(mend)]
    while scan.take(","):
        pairs.append(scan.name(mend))
    scan.end(mend)
    return gear, tuple(pairs)


def written_count(teeth: int | None, unsure: bool = False) -> str:
    """Return a count as it is written: `24`, `24u`, or `_` where there is none."""
    return "_" if teeth is None else f"{teeth}{'u' if unsure else ''}"


def _pair(scan: Scanner, name: str) -> Word:
    mend = f"write driver/driven, for example {name}=14/31, or driver/idler/driven"
    return _counts(scan, name, mend, f", or one wheel: {name}.driver=14")


def _counts(scan: Scanner, name: str, mend: str, or_one_wheel: str = "") -> Word:
    found: list[Count | None] = [scan.count("", mend)]
    while scan.take("/"):
        if len(found) == 3:
            raise scan.error("a pair has two wheels, or three with an idler", mend, back=1)
        found.append(scan.count("", mend))
    if len(found) == 1:
        if scan.peek():
            scan.end(mend)
        raise scan.error("one count alone is no pair", mend + or_one_wheel)
    scan.end(mend)
    names = wheel_names(name, len(found))
    counts = tuple(
        Count(wheel, c.teeth, c.unsure, c.times)
        for wheel, c in zip(names, found, strict=True)
        if c is not None
    )
    return Word(scan.text, counts, pair=name, size=len(found))


def _wheel(scan: Scanner, name: str) -> Word:
    mend = f"write {name}.driver=14, {name}.idler=20 or {name}.driven=31"
    role = next((r for r in ROLES_OF_THREE if scan.take(r)), None)
    if role is None:
        raise scan.error("no wheel of a pair is called that", mend)
    if not scan.take("="):
        raise scan.error("'=' is missing after the wheel", mend)
    wheel = f"{name}.{role}"
    count = scan.count(wheel, mend)
    scan.end(mend)
    return Word(scan.text, () if count is None else (count,), wheel=wheel)


def _turn(scan: Scanner, first: str) -> Word:
    gears = [first]
    mend = f"write gear@turns-in:turns-out, for example {first}@4:1.1 or {first}@1:7/24"
    while scan.take("+"):
        gears.append(scan.name())
    if not scan.take("@"):
        raise scan.error("'@' is missing after the gear", mend)
    turns_in, in_is_whole = scan.turns(mend)
    if not scan.take(":"):
        raise scan.error("':' is missing between turns in and turns out", mend)
    turns_out, out_is_whole = scan.turns(mend)
    held = scan.take("/held")
    scan.end(mend + ", with /held at the end where one wheel was held")
    if not LEAST_TURN_RATIO <= turns_in / turns_out <= MOST_TURN_RATIO:
        ratio = f"{float(turns_in / turns_out):.3g}"
        raise UserError(
            f"turns in over turns out is {ratio}, outside 0.2 to 20",
            scan.shown(),
            "turn again and write turns in before the colon, turns out behind it",
        )
    turn = Turn(tuple(gears), turns_in, turns_out, out_is_whole and not in_is_whole, held)
    return Word(scan.text, turn=turn)
