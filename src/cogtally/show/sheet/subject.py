"""What a sheet to fill in asks for: wheels in the order to count in, turn tests, marks, a key.

How it looks on paper is left to `sheet`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.catalog.model import Catalog, Family, Piece
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen
from cogtally.gears.trains import OVERDRIVE, Train, roles, wheel_names
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
#: Columns to set a key in, from wide to narrow.
KEY_WIDTHS = (60, 50, 42, 36)


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

    `note`: the family's own. `order`: how the wheels are numbered, in words. `keys`: the same key
    as lines of different widths, none where no count parts two sets. `words`: what to type when
    all is counted.
    """

    title: str
    note: str
    picture: Subject
    wheels: tuple[WheelRow, ...]
    turns: tuple[TurnRow, ...]
    pieces: tuple[PieceRow, ...]
    order: str
    keys: tuple[tuple[str, ...], ...]
    words: str
    demo: bool = False


def family_sheet(catalog: Catalog, family: Family) -> Sheet:
    """Return the sheet of a family, its wheels numbered by what a count of each would tell."""
    from cogtally.evidence.advice import MOST_TURNS, advise

    # To weigh turn tests takes long; the more turns, the finer a ratio is read off one mark.
    advice = advise(catalog, Seen(()), family.id, turns=False)
    order = [worth.wheel for worth in advice.wheels]
    order += [wheel for wheel in family.train.wheels if wheel not in order]
    numbers = {wheel: number for number, wheel in enumerate(order, 1)}
    labels = {wheel: Label(str(number)) for wheel, number in numbers.items()}
    pieces = {wheel: piece.name for wheel, piece in family.piece_of.items()}
    demo = "--demo " if catalog.demo else ""
    return Sheet(
        title=plain(f"{family.title} ({family.id})" if family.title != family.id else family.id),
        # Its lines were written as lines.
        note="\n".join(map(plain, family.note.splitlines())),
        picture=family_subject(family, labels),
        wheels=tuple(WheelRow(numbers[w], w, pieces.get(w, "")) for w in order),
        turns=tuple(TurnRow(gear, MOST_TURNS) for gear in family.train.gears),
        pieces=tuple(PieceRow(p.name, _features(family, p)) for p in family.pieces),
        order="The wheels are numbered in the order to count in: 1 tells most of which set it is.",
        keys=_keys(family),
        words=f"cogtally identify {demo}--family {family.id} {_words(family.train)}",
        demo=catalog.demo,
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
    numbers = {wheel: place for place, wheel in enumerate(whole.wheels, 1)}
    picture = blank_subject(train, axle, {w: Label(str(n)) for w, n in numbers.items()})
    named = {
        name: tuple(part for part in parts if part not in SHAFTS)
        for name, parts in picture.joints.pieces.items()
    }
    if layout == OVERDRIVE:
        sun, annulus = wheel_names(BLANK_OVERDRIVE, 2)
        named = {f"{BLANK_OVERDRIVE}-sun": (sun,), f"{BLANK_OVERDRIVE}-annulus": (annulus,)}
    piece_of = {wheel: name for name, wheels in named.items() for wheel in wheels}
    return Sheet(
        title=_blank_title(layout, number),
        note="",
        picture=picture,
        wheels=tuple(WheelRow(n, w, piece_of[w]) for w, n in numbers.items()),
        turns=tuple(TurnRow(gear, None) for gear in train.gears),
        pieces=tuple(PieceRow(name, _USUAL_FEATURES) for name, wheels in named.items() if wheels),
        order="The wheels are numbered pair by pair; strike out what your box does not have.",
        keys=(),
        words=f"cogtally identify {_words(whole)}",
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


def _keys(family: Family) -> tuple[tuple[str, ...], ...]:
    from cogtally.catalog.apart.sets import tell_apart
    from cogtally.show.catalog.apart_key import key_lines

    key = tell_apart(family).key
    if key is None:
        return ()
    return tuple(
        tuple(line.plain for line in key_lines(key, family, width)) for width in KEY_WIDTHS
    )


def _words(train: Train) -> str:
    """Return the pairs as they are typed, every count still to be written."""
    gaps = {p: "/".join("_" for _ in roles(n)) for p, n in train.pairs.items()}
    return " ".join(f"{pair}={gap}" for pair, gap in gaps.items())


def _or(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"
