"""What a sheet to fill in asks for: wheels in the order to count in, turn tests, marks, a key.

How it looks on paper is left to `page`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cogtally.catalog.model import Family, Piece
from cogtally.gears.errors import UserError
from cogtally.gears.trains import OVERDRIVE, Train, wheel_names
from cogtally.gears.turning import SHAFTS
from cogtally.show.screen import plain
from cogtally.show.train import (
    BLANK_OVERDRIVE,
    Label,
    Subject,
    blank_subject,
    blank_train,
    family_subject,
)

if TYPE_CHECKING:
    from cogtally.catalog.apart import Key

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
class WheelRow:
    """A wheel to count: its number in the order to count in, its name, and its piece."""

    number: int
    wheel: str
    piece: str


@dataclass(frozen=True, slots=True)
class TurnRow:
    """A turn test: the gear, and how many whole turns in, None on a sheet of no family."""

    gear: str
    turns: int | None


@dataclass(frozen=True, slots=True)
class PieceRow:
    """A piece to look at, and the features that sets of its family tell of."""

    piece: str
    features: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that a sheet asks for.

    `note`: the family's own. `order`: how the wheels are numbered, in words. `key` and `family`:
    the key of a family, None where no count parts two sets. `command`: what to type before the
    counts; `pairs`: each pair, and how many wheels it has.
    """

    title: str
    note: str
    picture: Subject
    wheels: tuple[WheelRow, ...]
    turns: tuple[TurnRow, ...]
    pieces: tuple[PieceRow, ...]
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
    numbers = {wheel: number for number, wheel in enumerate(order, 1)}
    labels = {wheel: Label(str(number)) for wheel, number in numbers.items()}
    asked = ["", "1 is", "1 and 2 are"][len(first)] if len(first) < 3 else f"1 to {len(first)} are"
    told = f"{asked} what the key asks for" if first else ""
    rest = "the rest follows piece by piece"
    return Sheet(
        title=plain(f"{family.title} ({family.id})" if family.title != family.id else family.id),
        # Its lines were written as lines.
        note="\n".join(map(plain, family.note.splitlines())),
        picture=family_subject(family, labels),
        wheels=tuple(
            WheelRow(numbers[w], w, piece_of[w].name if w in piece_of else "") for w in order
        ),
        # A direct gear is one turn for one: a test of it tells nothing.
        turns=tuple(TurnRow(g, MOST_TURNS) for g in family.train.gears if g != family.direct),
        pieces=tuple(PieceRow(p.name, _features(family, p)) for p in pieces),
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
        raise UserError("there is no such blank", f"--blank {layout}", f"use {_or(BLANKS)}")
    if layout in _NO_GEARS and gears is not None:
        raise UserError(_NO_GEARS[layout][0], f"--gears {gears}", "leave --gears out")
    number = USUAL_GEARS if gears is None else gears
    if not FEWEST_GEARS <= number <= MOST_GEARS:
        mend = f"write {FEWEST_GEARS} to {MOST_GEARS}"
        raise UserError("a blank does not have so many gears", f"--gears {gears}", mend)
    train, axle = blank_train(layout, number)
    whole = Train(train.layout, {**train.pairs, **({"final": 2} if axle else {})}, train.direct)
    named = {
        name: tuple(part for part in parts if part not in SHAFTS)
        for name, parts in blank_subject(train, axle, {}).joints.pieces.items()
    }
    if layout == OVERDRIVE:
        sun, annulus = wheel_names(BLANK_OVERDRIVE, 2)
        named = {f"{BLANK_OVERDRIVE}-sun": (sun,), f"{BLANK_OVERDRIVE}-annulus": (annulus,)}
    piece_of = {wheel: name for name, wheels in named.items() for wheel in wheels}
    order = [wheel for wheels in named.values() for wheel in wheels if wheel in whole.wheels]
    numbers = {wheel: place for place, wheel in enumerate(order, 1)}
    picture = blank_subject(train, axle, {w: Label(str(n)) for w, n in numbers.items()})
    return Sheet(
        title=_blank_title(layout, number),
        note="",
        picture=picture,
        wheels=tuple(WheelRow(n, w, piece_of[w]) for w, n in numbers.items()),
        turns=tuple(TurnRow(gear, None) for gear in train.gears if gear != train.direct),
        pieces=tuple(PieceRow(name, _USUAL_FEATURES) for name, wheels in named.items() if wheels),
        order="The ringed numbers go piece by piece; strike out what your box does not have.",
        command="cogtally identify",
        pairs=tuple(whole.pairs.items()),
    )


def _blank_title(layout: str, gears: int) -> str:
    if layout in _NO_GEARS:
        return _NO_GEARS[layout][1]
    return f"A {layout} box of {gears} gears"


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


def _or(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def sheet_json(sheet: Sheet, file: str) -> dict[str, Any]:
    """Return what was written, and the wheels in the order to count in."""
    return {
        "format": 1,
        "sheet": file,
        "title": sheet.title,
        "wheels": [
            {"number": row.number, "wheel": row.wheel, "piece": row.piece} for row in sheet.wheels
        ],
        "turns": [{"gear": row.gear, "in": row.turns} for row in sheet.turns],
        "pieces": [row.piece for row in sheet.pieces],
    }
