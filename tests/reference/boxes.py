"""Knows how to make up what a person wrote down of a box, by chance but repeatably.

Leaves the catalog to `worlds`; says what the box truly was, for those who want to score an answer.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from .layout import Family, build_family

Doc = Mapping[str, Any]


def random_box(docs: Sequence[Doc], seed: int) -> dict[str, Any]:
    """Return {"words", "kind", "family", "sets"}: what was written, and what was true.

    `kind` is matched, printed, mixed, variant, new or uncatalogued; `sets` is empty for the last
    two, `family` for the last.
    """
    dice = random.Random(f"box {seed}")
    family = build_family(dice.choice(docs))
    kinds = {"matched": 50, "mixed": 15, "variant": 12, "new": 13, "uncatalogued": 10}
    kind = dice.choices(list(kinds), list(kinds.values()))[0]
    sets: list[str] = []
    if not family.counted:
        kind = "printed" if kind == "matched" else "uncatalogued"
        teeth = _invented(family, dice)
    elif kind == "uncatalogued":
        teeth = _invented(family, dice)
    else:
        teeth, sets = _built(family, kind, dice)
    words = _counts(family, teeth, dice) + _turns(family, teeth, dice)
    if dice.random() < 0.3:
        dice.shuffle(words)
    own = kind != "uncatalogued"
    return {"words": words, "kind": kind, "family": family.id if own else "", "sets": sets}


def _pairs(family: Family) -> dict[str, tuple[str, ...]]:
    pairs = dict(family.pairs)
    for one in family.printed:
        for gear in one.ends:
            for pair in family.path(gear):
                pairs.setdefault(pair, ("driver", "driven"))
    return pairs


def _invented(family: Family, dice: random.Random) -> dict[str, int]:
    names = [f"{pair}.{part}" for pair, parts in _pairs(family).items() for part in parts]
    return {name: dice.randint(11, 38) for name in names}


def _built(family: Family, kind: str, dice: random.Random) -> tuple[dict[str, int], list[str]]:
    """Return the teeth of a box of one set, of several, with strange wheels, or of a new set."""
    base = dice.choice(family.counted)
    other = dice.choice(family.counted)
    teeth = _invented(family, dice)
    changed = dice.sample(
        list(family.pieces), dice.choice([1, 1, 2]) if len(family.pieces) > 1 else 1
    )
    for piece, wheels in family.pieces.items():
        for wheel in wheels:
            source = other if kind == "mixed" and piece in changed else base
            known = source.teeth[wheel]
            teeth[wheel] = known if known is not None else teeth.get(wheel, 20)
        if kind == "variant" and piece in changed:
            wheel = dice.choice(wheels)
            teeth[wheel] = max(5, teeth[wheel] + dice.choice([-3, -2, -1, 1, 2, 3]))
    if kind == "new":
        for pair, parts in family.pairs.items():
            by = dice.choice([-3, -2, -1, 0, 0, 1, 2, 3])
            for part, step in ((parts[0], by), (parts[-1], -by)):
                wheel = family.wheel(f"{pair}.{part}")
                teeth[wheel] = max(5, teeth[wheel] + step)
    for name, wheel in family.wheel_names().items():
        teeth[name] = teeth[wheel]
    return teeth, {"mixed": [base.id, other.id], "new": []}.get(kind, [base.id])


# -- counts -----------------------------------------------------------------------------------


def _count(teeth: int, dice: random.Random) -> str:
    draw = dice.random()
    if draw < 0.10:
        return "_"
    if draw < 0.20:
        teeth += dice.choice([-2, -1, -1, 1, 1, 2])
    elif draw < 0.22:
        teeth = dice.randint(4, 200) if dice.random() < 0.3 else dice.randint(10, 40)
    text = str(min(200, max(4, teeth)))
    if dice.random() < 0.12:
        text += "u"
    if dice.random() < 0.10:
        text += f"x{dice.choice([1, 2, 2, 3, 5])}"
    return text


def _counts(family: Family, teeth: Mapping[str, int], dice: random.Random) -> list[str]:
    words: list[str] = []
    share = dice.choice([0.0, 0.3, 0.6, 0.9, 1.0])
    for pair, parts in _pairs(family).items():
        if dice.random() >= share:
            continue
        if dice.random() < 0.15 and len(parts) == 3:
            parts = ("driver", "driven")
        for _ in range(dice.choice([1, 1, 1, 1, 2])):
            if dice.random() < 0.75:
                words.append(
                    f"{pair}=" + "/".join(_count(teeth[f"{pair}.{p}"], dice) for p in parts)
                )
            else:
                part = dice.choice(parts)
                words.append(f"{pair}.{part}={_count(teeth[f'{pair}.{part}'], dice)}")
    if dice.random() < 0.12:
        strange = dice.choice(["8=21/23", "R=12/19/27", "R.idler=20", "2=19/20/26", "8.driver=17",
                               "final=9/41", "8=_/_", "1.idler=19", "R=13/29", "output=21/25",
                               "input=18/26"])  # fmt: skip
        words.append(strange)
    return words


# -- turn tests -------------------------------------------------------------------------------


def _ratio(family: Family, teeth: Mapping[str, int], gears: Sequence[str]) -> Fraction | None:
    ratio = Fraction(1)
    for gear in gears:
        for pair in family.path(gear):
            if f"{pair}.driver" not in teeth or f"{pair}.driven" not in teeth:
                return None
            ratio *= Fraction(teeth[f"{pair}.driven"], teeth[f"{pair}.driver"])
    return ratio


def _turns(family: Family, teeth: Mapping[str, int], dice: random.Random) -> list[str]:
    if dice.random() < 0.45:
        return []
    gears = list(family.gears) or [gear for one in family.printed for gear in one.ends]
    gears += ["R", "9", "final", *([family.direct] if family.direct else [])]
    words = []
    for _ in range(dice.choice([1, 1, 2, 3])):
        test = [dice.choice(gears)]
        if dice.random() < 0.25:
            test = [test[0], "final"] if test[0] != "final" else ["1", "final"]
        held = "/held" if dice.random() < 0.15 else ""
        ratio = _ratio(family, teeth, test) or Fraction(dice.randint(9, 40), 10)
        words += _turn("+".join(test), float(ratio) / (2 if held else 1), held, dice)
    return words


def _turn(gears: str, ratio: float, held: str, dice: random.Random) -> list[str]:
    noise = dice.gauss(0, 1 / 48) if dice.random() < 0.9 else dice.uniform(-0.5, 0.5)
    if dice.random() < 0.3:
        out = dice.choice([1, 1, 2])
        read_in = max(0.0, ratio * out + noise)
        text_in, text_out = f"{read_in:.2f}", str(out)
    else:
        turns = dice.choice([1, 2, 4, 7, 10])
        read_out = max(0.0, turns / ratio + noise)
        way = dice.randrange(4)
        twelfths = round(read_out * 24)
        text_in = str(turns) if dice.random() < 0.9 else f"{turns}.0"
        text_out = f"{read_out:.2f}"
        if way == 0:
            text_out = f"{twelfths}/24"
        elif way == 1 and twelfths > 24:
            text_out = f"{twelfths // 24}+{twelfths % 24}/24"
        elif way == 2:
            text_out = f"{read_out:.1f}"
    written_out = sum(map(Fraction, text_out.split("+")))
    if written_out == 0 or not 0.21 < Fraction(text_in) / written_out < 19.9:
        return []
    # A whole number behind the colon alone, and less in than out: that is refused as turned round.
    if (
        written_out.denominator == 1 != Fraction(text_in).denominator
        and 2 * Fraction(text_in) < written_out
    ):
        return []
    return [f"{gears}@{text_in}:{text_out}{held}"]
