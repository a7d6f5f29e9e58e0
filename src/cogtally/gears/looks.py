"""How marks and features that were looked at are written and read: one parser for everywhere.

What they say of an answer is left to the evidence, whether a catalog has such a piece as well.

    mark     = [PIECE ":"] reading              laygear:LG*02   a reading has letters and digits,
                                                ? for one that cannot be read, * for any number
    feature  = [OWNER "."] FEATURE "=" value    laygear.splines=10   3.driver.hand=left
    value    = number ["u"] ["x" 1…99] | word   10u   94.2u   involute

Of a loose piece the name of the piece is left out, and a wheel is named by its place: `2.hand`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from cogtally.gears.errors import UserError, shown
from cogtally.gears.notation import MOST_TIMES, Count, ReadFeature, ReadMark, Scanner, Seen

Value = str | int | float

#: Counted like teeth.
COUNTED = ("splines", "dog_teeth", "bolts")
#: Measured, in the unit that the name ends with.
SIZED = ("bore_mm", "od_mm", "width_mm", "length_mm", "helix_deg")
#: Of one of several kinds.
KINDS: dict[str, tuple[str, ...]] = {
    "hand": ("left", "right", "straight", "double"),
    "spline_form": ("straight", "involute"),
}
#: Every feature that can be looked at.
FEATURES = (*COUNTED, *SIZED, *KINDS)
#: What a number of a sized feature is a number of, by the end of its name.
UNITS = {"_mm": " mm", "_deg": " degrees"}

HAND, HELIX, OUTSIDE = "hand", "helix_deg", "od_mm"
#: Beyond these nothing was counted or measured with care.
MOST_COUNTED = 200
MOST_SIZED = {"_mm": 10_000.0, "_deg": 90.0}


def known_value(feature: str, value: object) -> Value | None:
    """Return a value where it is one that the feature can have, else None.

    A counted feature has a whole number from 1 to 200, a sized one a number above 0,
    a kind one of its words.
    """
    if feature in KINDS:
        return value if isinstance(value, str) and value in KINDS[feature] else None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    if feature in COUNTED:
        return int(value) if value == int(value) and 1 <= value <= MOST_COUNTED else None
    return float(value) if feature in SIZED and 0 < value <= greatest(feature) else None


def greatest(feature: str) -> float:
    """Return the greatest value that a sized feature can have."""
    return next(most for end, most in MOST_SIZED.items() if feature.endswith(end))


def feature_name(feature: str) -> str:
    """Return a feature as a person calls it: `dog teeth`, `bore`."""
    for end in UNITS:
        feature = feature.removesuffix(end)
    return {"od": "outside diameter"}.get(feature, feature.replace("_", " "))


def value_text(feature: str, value: object) -> str:
    """Return a value with its unit: `19.05 mm`, `10`, `left`."""
    unit = next((unit for end, unit in UNITS.items() if feature.endswith(end)), "")
    return f"{value:g}{unit}" if isinstance(value, (int, float)) else str(value)


#: At an end of a loose piece: at least one more wheel beyond it.
OPEN = ".."


@dataclass(frozen=True, slots=True)
class SeenPiece:
    """What was counted on a loose piece, along its axis from either end.

    `places` hold the counts of one wheel each (none for `_`); an open end has at least one more
    wheel beyond it. `marks` and `features`: what was read and looked at on it besides.
    """

    places: tuple[tuple[Count, ...], ...]
    open_start: bool = False
    open_end: bool = False
    marks: tuple[ReadMark, ...] = ()
    features: tuple[ReadFeature, ...] = ()


#: No piece has more wheels.
MOST_IN_PIECE = 40


def parse_piece(words: Sequence[str]) -> SeenPiece:
    """Read the counts of a loose piece: `28 24 _ 14u ..`; raise UserError at a wrong one."""
    mend = "write the counts along the axis, for example 28 24 19 _ 12, with .. for wheels beyond"
    start = list(words[:1]) == [OPEN]
    inner = list(words[start:])
    end = inner[-1:] == [OPEN]
    inner = inner[: len(inner) - end]
    if not inner:
        raise UserError("no wheel was written", mend=mend)
    if len(inner) > MOST_IN_PIECE:
        sentence = f"a piece has at most {MOST_IN_PIECE} wheels, and {len(inner):,} were written"
        raise UserError(sentence, mend="write the counts of one piece")
    if OPEN in inner:
        raise UserError("'..' stands between two wheels", OPEN, "write _ for a wheel not counted")
    places = []
    for word in inner:
        scan = Scanner(word)
        if "," in word:
            apart = " ".join(word.replace(",", " ").split())
            raise UserError("counts stand apart, without commas", scan.shown(), f"write {apart}")
        if "=" in word or "@" in word:
            of_a_box = "a loose piece has counts alone; pairs and turns go to 'cogtally identify'"
            raise UserError("this is written of a box", scan.shown(), of_a_box)
        count = scan.count("", mend)
        scan.end(mend)
        places.append(() if count is None else (count,))
    return SeenPiece(tuple(places), start, end)


#: In a reading: one character that cannot be read, and any number of them.
UNREAD, LOST = "?", "*"
#: No mark has more characters; a longer reading is a slip.
LONGEST_READING = 40
LONGEST_OWNER = 48
#: A text of so many characters is no reading, and not worth going through.
LONGEST_TYPED = 200

_PIECE = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_OWNER = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*(\.(driver|idler|driven))?")
_PLACE = re.compile(r"[1-9][0-9]?")
_COUNTED = re.compile(r"([0-9]{1,6})(u?)(?:x([0-9]{1,4}))?")
_SIZED = re.compile(r"((?:[0-9]{1,8}(?:[.,][0-9]{1,8})?|[.,][0-9]{1,8}))(u?)(?:x([0-9]{1,4}))?")
_MARK_MEND = "write ? for a character that cannot be read, * for any number: LG 3?02, LG*"


def mark_key(text: str, kept: str = "") -> str:
    """Return a mark as it is compared: letters and digits alone, small ones, and those of `kept`.

    Case, spaces and punctuation do not matter, nor do wide or joined forms of a character.
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    return "".join(c for c in plain if c.isalnum() or c in kept)


def parse_mark(text: str, *, loose: bool = False, option: str = "--mark") -> ReadMark:
    """Read what was read off a piece, `laygear:LG 3?02`; raise UserError.

    Of a `loose` piece the whole text is the reading.
    """
    place = f"{option} {shown(text)}".strip()
    piece, reading = "", text
    if not loose:
        piece, colon, reading = text.partition(":")
        piece = piece.strip()
        mend = "write PIECE:MARK, for example laygear:LG*02"
        if not colon:
            raise UserError("the piece that the mark is on is missing", place, mend)
        if len(piece) > LONGEST_OWNER or _PIECE.fullmatch(piece) is None:
            raise UserError("a piece is called by letters, digits and -", place, mend)
    if len(reading) > LONGEST_TYPED:
        raise UserError(f"a mark of {len(reading):,} characters was read", place, _MARK_MEND)
    key = re.sub(r"\*+", LOST, mark_key(reading, UNREAD + LOST))
    if not key:
        raise UserError("the mark has no letter or digit", place, _MARK_MEND)
    if len(key) > LONGEST_READING:
        many = f"a mark of {len(key)} letters and digits was read"
        raise UserError(many, place, f"at most {LONGEST_READING} are compared; write * for a rest")
    return ReadMark(piece, key, text.strip())


def parse_feature(text: str, *, loose: bool = False, option: str = "--feature") -> ReadFeature:
    """Read a feature that was looked at, `laygear.splines=10`; raise UserError.

    Of a `loose` piece the owner is left out (`splines=10`) or the place of a wheel (`2.hand=left`).
    """
    place = f"{option} {shown(text)}".strip()
    example = "splines=10 or 2.hand=left" if loose else "laygear.splines=10 or 3.driver.hand=left"
    left, equals, typed = text.strip().partition("=")
    if not equals:
        raise UserError("'=' is missing after the feature", place, f"write {example}")
    owner, dot, feature = left.strip().rpartition(".")
    feature = feature.strip().casefold()
    if feature not in FEATURES:
        raise UserError(f"there is no feature '{shown(feature)}'", place, _meant(feature, FEATURES))
    if loose and dot and _PLACE.fullmatch(owner) is None:
        mend = f"write {example}: the place of a wheel, from 1, as the counts are written"
        raise UserError("a wheel of a loose piece is named by its place", place, mend)
    if not loose and (len(owner) > LONGEST_OWNER or _OWNER.fullmatch(owner) is None):
        what = "a wheel or a piece" if dot else "the wheel or piece that the feature is of"
        raise UserError(f"{what} was expected before the feature", place, f"write {example}")
    return _value(owner, feature, typed.strip(), place, text.strip())


_S = TypeVar("_S", Seen, SeenPiece)


def with_looks(
    seen: _S,
    marks: Iterable[str],
    features: Iterable[str],
    named: tuple[str, str] = ("--mark", "--feature"),
) -> _S:
    """Return the same with marks and features that were typed; raise UserError at a wrong one.

    `named`: what the places where they were typed are called in an error.
    """
    loose = isinstance(seen, SeenPiece)
    found: list[ReadMark] = [parse_mark(text, loose=loose, option=named[0]) for text in marks]
    looked: list[ReadFeature] = [
        parse_feature(text, loose=loose, option=named[1]) for text in features
    ]
    return replace(seen, marks=(*seen.marks, *found), features=(*seen.features, *looked))


def _value(owner: str, feature: str, typed: str, place: str, text: str) -> ReadFeature:
    if feature in KINDS:
        word = typed.casefold()
        if word not in KINDS[feature]:
            mend = _meant(word, KINDS[feature])
            raise UserError(f"'{shown(typed)}' is no {feature.replace('_', ' ')}", place, mend)
        return ReadFeature(owner, feature, word, text=text)
    counted = feature in COUNTED
    found = (_COUNTED if counted else _SIZED).fullmatch(typed)
    if found is None:
        mend = "write a whole number, 10, or 10u where unsure"
        if not counted:
            mend = "write a number with a point, 19.05, or 19.05u where unsure"
        raise UserError(f"'{shown(typed)}' is no number", place, mend)
    number: int | float = int(found[1]) if counted else float(found[1].replace(",", "."))
    most: int | float = MOST_COUNTED if counted else greatest(feature)
    times = int(found[3] or 1)
    if not 0 < number <= most:
        least = "from 1" if counted else "more than 0"
        mend = "straight teeth are hand=straight" if feature.endswith("_deg") else "look again"
        raise UserError(f"{feature} is {least}, up to {most:g}", place, mend)
    if not 1 <= times <= MOST_TIMES:
        raise UserError(f"x is followed by 1 to {MOST_TIMES}", place, f"write {number:g}x3")
    return ReadFeature(owner, feature, number, bool(found[2]), times, text)


def _meant(word: str, known: Iterable[str]) -> str:
    """The mend for a word that is none of `known`: the nearest, else all of them."""
    from difflib import get_close_matches

    words = list(known)
    near = get_close_matches(word[:LONGEST_OWNER], words, 1)
    return f"did you mean {near[0]}?" if near else f"write {', '.join(words[:-1])} or {words[-1]}"
