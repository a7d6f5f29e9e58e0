"""Knows how to make up small catalogs of every kind of family, by chance but repeatably.

Leaves what turns up on the bench to `boxes`. Everything is invented, and as catalog files may be.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from .layout import build_family
from .states import piece_states

#: The most configurations that a random family may have.
SMALL = 120_000

Doc = dict[str, Any]
Teeth = dict[str, list[int]]

_SPARE = "ash beech cedar elm fir gorse holly ivy juniper lime maple oak pine rose sloe thorn yew"
_COMMON = (1, 1, 1, 0.5, 2, 3, 4.5)


def world(seed: int, families: int | None = None) -> list[Doc]:
    """Return a random catalog of 2 to 6 families, the same for the same seed."""
    dice = random.Random(f"world {seed}")
    names = dice.sample(_SPARE.split(), 6)
    count = families if families is not None else dice.randint(2, 6)
    makers = [_layshaft, _layshaft, _layshaft, _sleeve, _two_shaft, _two_shaft, _axle]
    docs = []
    while len(docs) < count:
        doc = _family(f"{names[len(docs)]}-{dice.randint(3, 9)}", dice.choice(makers), dice)
        if configurations(doc) <= SMALL:
            docs.append(doc)
    return docs


def configurations(doc: Doc) -> int:
    """Return how many configurations the counted sets of a family have."""
    family = build_family(doc)
    cells = 1
    for piece in family.pieces:
        cells *= len(piece_states(family, piece))
    return cells


def _family(name: str, maker: Callable[..., Teeth], dice: random.Random) -> Doc:
    head: dict[str, Any] = {"id": name, "name": f"Family {name}"}
    base = maker(head, dice)
    alone = dice.random() < 0.15 and "pieces" not in head and "same" not in head
    entries: list[Doc] = []
    if not alone:
        entries = _counted_sets(head, base, dice)
    for number in range(dice.choice([1, 2, 3]) if alone else dice.choice([0, 0, 0, 1, 1, 2])):
        teeth = _varied(head, base, dice)
        ratios = _printed(head, teeth, dice, alone)
        if ratios:
            entries.append(
                {"id": f"sheet-{number}", "ratios": ratios, "commonness": dice.choice(_COMMON)}
            )
    if not alone and len(entries) > 1 and dice.random() < 0.1:
        printed = [one for one in entries if "pairs" not in one]
        entries += [{**dice.choice(printed), "id": "sheet-again"}] if printed else []
    if dice.random() < 0.3:
        dice.shuffle(entries)
    return {"family": head, "set": entries} if entries else _family(name, maker, dice)


def _counted_sets(head: Mapping[str, Any], base: Teeth, dice: random.Random) -> list[Doc]:
    entries: list[Doc] = []
    kept: list[Teeth] = []
    for number in range(dice.choice([1, 2, 2, 3, 3, 4])):
        draw = dice.random()
        if kept and draw < 0.15:
            teeth = dice.choice(kept)
        else:
            teeth = base if not kept else _varied(head, dice.choice(kept), dice)
        kept.append(teeth)
        entries.append({"id": f"set-{number}", "pairs": _written_pairs(teeth)})
        if dice.random() < 0.7:
            entries[-1]["commonness"] = dice.choice(_COMMON)
        if dice.random() < 0.3:
            _gap(head, entries[-1], dice)
    same_pieces = build_family({"family": head, "set": entries}).pieces
    for entry in entries:
        _describe(entry, same_pieces, dice)
    if dice.random() < 0.15:
        entries.append({**dice.choice(entries), "id": "twin"})
    for entry, teeth in zip(entries, kept, strict=False):
        if dice.random() < 0.2 and "_" not in "".join(entry["pairs"].values()):
            entry["ratios"] = _printed(head, teeth, dice, True)
    return entries


def _gap(head: Mapping[str, Any], entry: Doc, dice: random.Random) -> None:
    doubled = {part for two in head.get("same", {}).items() for part in two}
    for _ in range(dice.choice([1, 1, 2])):
        pair = dice.choice(list(entry["pairs"]))
        teeth = entry["pairs"][pair].split("/")
        place = dice.randrange(len(teeth))
        parts = ("driver", "idler", "driven") if len(teeth) == 3 else ("driver", "driven")
        if f"{pair}.{parts[place]}" not in doubled:
            left = [n for n in "/".join(entry["pairs"].values()).split("/") if n != "_"]
            if len(left) > 1:
                teeth[place] = "_"
                entry["pairs"][pair] = "/".join(teeth)


def _describe(entry: Doc, pieces: Mapping[str, list[str]], dice: random.Random) -> None:
    """Give a set marks and features now and then, few enough that sets often agree."""
    marks = {p: [f"M {dice.randint(1, 2)}"] for p in pieces if dice.random() < 0.12}
    features: dict[str, dict[str, object]] = {}
    for piece, wheels in pieces.items():
        if dice.random() < 0.1:
            features[piece] = {"splines": dice.choice([10, 20])}
        for wheel in wheels:
            if dice.random() < 0.06:
                features[wheel] = {"hand": dice.choice(["left", "right"])}
    if marks:
        entry["marks"] = marks
    if features:
        entry["features"] = features


def _written_pairs(teeth: Teeth) -> dict[str, str]:
    return {pair: "/".join(map(str, counts)) for pair, counts in teeth.items()}


def _varied(head: Mapping[str, Any], teeth: Teeth, dice: random.Random) -> Teeth:
    """Return other teeth for one to three pairs, the sums kept or off by one."""
    new = {pair: list(counts) for pair, counts in teeth.items()}
    for pair in dice.sample(list(new), min(len(new), dice.choice([1, 1, 2, 3]))):
        by = dice.choice([-2, -1, 1, 2])
        new[pair][0] = max(7, new[pair][0] + by)
        new[pair][-1] = max(7, new[pair][-1] - by + dice.choice([0, 0, 0, 0, -1, 1]))
    for one, other in head.get("same", {}).items():
        (a, part_a), (b, part_b) = one.split("."), other.split(".")
        new[a][0 if part_a == "driver" else -1] = new[b][0 if part_b == "driver" else -1]
    return new


def _split(total: int, least: float, most: float, dice: random.Random) -> list[int]:
    """Return driver and driven of a tooth sum, the ratio between two bounds."""
    driver = round(total / (1 + dice.uniform(least, most)))
    return [driver, total - driver]


def _layshaft(head: dict[str, Any], dice: random.Random) -> Teeth:
    head["layout"] = "layshaft"
    total, count = dice.randint(36, 52), dice.choice([1, 2, 2, 3])
    if dice.random() < 0.8:
        head["direct"] = str(count + 1)
    teeth = {"input": _split(total, 1.3, 1.9, dice)}
    for gear in range(1, count + 1):
        teeth[str(gear)] = _split(total, 2.2 - 0.5 * gear, 2.6 - 0.5 * gear, dice)
    if dice.random() < 0.1:
        teeth["low"] = _split(total, 2.8, 3.2, dice)
    kind = dice.choice(["none", "idler", "idler", "shared driver", "shared driven", "compound"])
    if kind == "none":
        return teeth
    if kind == "compound":
        head["paths"] = {"R": ["input", "R1", "R2"]}
        teeth["R1"], teeth["R2"] = [dice.randint(12, 15), 20], [dice.randint(15, 18), 27]
        teeth.pop("low", None)
        lay = ["input.driven", *(f"{g}.driver" for g in range(count, 0, -1)), "R1.driver"]
        head["pieces"] = {
            "input-shaft": ["input.driver"],
            "laygear": lay,
            "reverse-cluster": ["R1.driven", "R2.driver"],
            "R2-gear": ["R2.driven"],
        }
        for gear in range(1, count + 1):
            head["pieces"][f"{gear}-gear"] = [f"{gear}.driven"]
        return teeth
    teeth["R"] = [dice.randint(11, 14), dice.randint(17, 20), dice.randint(26, 30)]
    if kind == "shared driver":
        head["same"] = {"R.driver": "1.driver"}
        teeth["R"][0] = teeth["1"][0]
        if dice.random() < 0.5:
            head["pieces"] = {"1-gear": ["1.driven", "R.driven"]}
    elif kind == "shared driven":
        head["same"] = {"R.driven": "1.driven"}
        teeth["R"][-1] = teeth["1"][-1]
    elif dice.random() < 0.4:
        head["pieces"] = {"1-gear": ["1.driven", "R.driven"]}
    return teeth


def _sleeve(head: dict[str, Any], dice: random.Random) -> Teeth:
    head["layout"] = "sleeve"
    total, count = dice.randint(34, 46), dice.choice([2, 2, 3])
    if dice.random() < 0.8:
        head["direct"] = str(count + 1)
    teeth = {str(g): _split(total, 1.9 - 0.4 * g, 2.2 - 0.4 * g, dice) for g in range(1, count + 1)}
    teeth["output"] = _split(total, 1.2, 1.6, dice)
    head["pieces"] = {"sleeve-gear": ["output.driven"]}
    if dice.random() < 0.5:
        head["pieces"]["cluster"] = [f"{g}.driven" for g in range(1, count + 1)]
        head["pieces"]["cluster"].append("output.driver")
        head["pieces"] |= {f"wheel-{g}": [f"{g}.driver"] for g in range(1, count + 1)}
    else:
        head["pieces"]["main-shaft"] = ["1.driver", "2.driver"]
        head["pieces"]["low-cluster"] = ["output.driver", "1.driven"]
        head["pieces"] |= {f"wheel-{g}": [f"{g}.driven"] for g in range(2, count + 1)}
        head["pieces"] |= {f"driver-{g}": [f"{g}.driver"] for g in range(3, count + 1)}
    return teeth


def _two_shaft(head: dict[str, Any], dice: random.Random) -> Teeth:
    head["layout"] = "two-shaft"
    total, count = dice.randint(44, 60), dice.choice([2, 2, 3])
    teeth = {str(g): _split(total, 3.2 - 0.7 * g, 3.8 - 0.7 * g, dice) for g in range(1, count + 1)}
    kind = dice.choice(["plain", "plain", "final", "idler", "compound", "input shaft"])
    pieces: dict[str, list[str]] = {}
    if kind in ("final", "input shaft"):
        teeth["final"] = [dice.randint(14, 19), dice.randint(55, 70)]
    if kind == "idler":
        teeth["R"] = [dice.randint(11, 14), dice.randint(18, 22), dice.randint(34, 40)]
    if kind == "compound":
        teeth["R1"], teeth["R2"] = [dice.randint(12, 15), 21], [dice.randint(15, 18), 33]
        head["paths"] = {"R": ["R1", "R2"]}
        if dice.random() < 0.4:
            head["paths"] = {"R": ["1", "R1", "R2"]}
        pieces = {"reverse-cluster": ["R1.driven", "R2.driver"]}
        pieces |= {"R1-driver": ["R1.driver"], "R2-driven": ["R2.driven"]}
    if kind in ("compound", "input shaft"):
        pieces["shaft"] = [f"{g}.driver" for g in range(1, count + 1)]
        pieces |= {f"{g}-driven": [f"{g}.driven"] for g in range(1, count + 1)}
        if "final" in teeth:
            pieces |= {"final-driver": ["final.driver"], "final-driven": ["final.driven"]}
        head["pieces"] = pieces
    return teeth


def _axle(head: dict[str, Any], dice: random.Random) -> Teeth:
    head["layout"] = "axle"
    return {
        "final": [
            dice.choice([dice.randint(5, 13), 4]),
            dice.choice([dice.randint(35, 52), 98, 101]),
        ]
    }


def _printed(
    head: Mapping[str, Any], teeth: Teeth, dice: random.Random, all_known: bool
) -> dict[str, str]:
    """Return printed ratios of some gears, as teeth of 5…99 give them."""
    if any(not 5 <= t <= 99 for counts in teeth.values() for t in counts):
        return {}
    spelled = head.get("paths", {})
    digits = dice.choice([1, 2, 2, 2, 3, 3])
    teeth = dict(teeth)
    gears = [gear for gear in teeth if gear not in ("input", "output", "R1", "R2")]
    gears = [gear for gear in gears if gear == "final" or dice.random() < 0.8]
    if not all_known and head["layout"] != "axle" and dice.random() < 0.15:
        teeth["7"] = [25, 23]
        gears.append("7")
    lone = [pair for pair in spelled.get("R", []) if pair.isdigit() and pair not in gears]
    if "R" in spelled and gears and not lone and dice.random() < 0.3:
        gears.append("R")
    rule = {"layshaft": ("input", ""), "sleeve": ("", "output")}.get(head["layout"], ("", ""))
    printed = {}
    for gear in gears:
        path = spelled.get(gear) or [pair for pair in (rule[0], gear, rule[1]) if pair]
        ratio = Fraction(1)
        for pair in path:
            ratio *= Fraction(teeth[pair][-1], teeth[pair][0])
        printed[gear] = decimals(ratio, digits)
    if "direct" in head and dice.random() < 0.4:
        printed[head["direct"]] = "1.00"
    return printed


def decimals(ratio: Fraction, digits: int) -> str:
    """Return a ratio rounded to so many decimals, as a brochure prints it."""
    whole = round(ratio * 10**digits)
    return f"{whole // 10**digits}.{whole % 10**digits:0{digits}d}"


def _toml_value(value: object) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml_value, value)) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{k}" = {_toml_value(v)}' for k, v in value.items()) + " }"
    return repr(value)


def toml_text(doc: Doc) -> str:
    """Return a family document as the text of its TOML file."""
    lines = ["[family]", *(f'"{k}" = {_toml_value(v)}' for k, v in doc["family"].items())]
    for entry in doc["set"]:
        lines += ["", "[[set]]", *(f'"{k}" = {_toml_value(v)}' for k, v in entry.items())]
    return "\n".join(lines) + "\n"
