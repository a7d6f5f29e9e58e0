"""Families of invented sets, as many as a test asks for.

What is done with them is left to the tests.
"""

from random import Random

from cogtally.catalog.model import Family, RatioSet


def many_families(families: int, sets: int, commonness: float = 1.0) -> list[Family]:
    """Return sound families of layshaft boxes, each of so many sets that differ in teeth."""
    return [
        Family(
            id=f"box-{number}",
            layout="layshaft",
            name=f"Box {number}",
            direct="4",
            sets=tuple(_set(number, each, commonness) for each in range(sets)),
        )
        for number in range(families)
    ]


def _set(family: int, number: int, commonness: float) -> RatioSet:
    first, second = 13 + number % 8, 18 + (number // 8) % 8
    return RatioSet(
        id=f"set-{number}",
        name=f"Set {number}",
        pairs={
            "input": (17, 28),
            "1": (first, 45 - first),
            "2": (second, 45 - second),
            "R": (12, 20, 28),
        },
        commonness=commonness,
        source="counted on the bench, one box",
        marks={"laygear": (f"M {family} {number}",)},
    )


#: What invented names, marks and sources are made of.
_NAMES = (
    "Alder",
    "Birch",
    "Sorrel",
    "Rowan",
    "Willow",
    "Osier",
    "Hazel",
    "Whin",
    "Sallow",
    "Elder",
)
_KINDS = ("wide", "close", "saloon", "touring", "late", "early", "sport", "haul", "hill", "town")
_SOURCES = (
    "counted on the bench",
    "a brochure",
    "box paper",
    "loose set",
    "works sheet",
    "old list",
)


def varied_families(families: int, sets: int, seed: int) -> list[Family]:
    """Return families of several layouts whose names, marks, sources and teeth differ at random.

    They are for looking through: not all of them are sound.
    """
    chance = Random(seed)
    return [_varied(number, sets, chance) for number in range(families)]


def _varied(number: int, sets: int, chance: Random) -> Family:
    name = chance.choice(_NAMES)
    layout = chance.choice(["layshaft", "layshaft", "two-shaft", "axle"])
    ends = {"layshaft": ["input", "1", "2", "3", "R"], "two-shaft": ["1", "2", "3"]}
    pairs = ends.get(layout, ["final"])
    return Family(
        id=f"{name.lower()}-{number}",
        layout=layout,
        name=f"{name} {chance.choice(['four', 'five', 'three'])}-speed {number}",
        aliases=(f"{name[:3]}-{number}",) if chance.random() < 0.5 else (),
        note=f"{chance.choice(_KINDS)} boxes, {chance.choice(_SOURCES)}" * (number % 3),
        direct="4" if layout == "layshaft" else None,
        same={"R.driver": "1.driver"} if layout == "layshaft" and number % 5 == 0 else {},
        sets=tuple(_varied_set(each, pairs, chance) for each in range(sets)),
    )


def _varied_set(number: int, pairs: list[str], chance: Random) -> RatioSet:
    kind = chance.choice(_KINDS)
    teeth = {pair: _varied_pair(pair, chance) for pair in pairs}
    if chance.random() < 0.1:
        teeth = {}
    printed = {gear: f"{chance.randrange(100, 460) / 100:.2f}" for gear in pairs if gear != "input"}
    where = f"{chance.choice(_SOURCES)}, page {chance.randrange(400)}"
    return RatioSet(
        id=f"{kind}-{number}",
        name=f"{kind.title()} ratio {chance.choice(['', 'two', 'new', str(number)])}".strip(),
        pairs=teeth,
        ratios=printed if not teeth or chance.random() < 0.2 else {},
        source=chance.choice([where, where.upper(), "", "  "]),
        aliases=(f"{kind[:2]}{chance.randrange(100)}",) if chance.random() < 0.3 else (),
        marks={"laygear": (f"LG {chance.randrange(10**5)}",)} if chance.random() < 0.7 else {},
        features={"laygear": {"hand": "left", "splines": 10}} if chance.random() < 0.1 else {},
    )


def _varied_pair(pair: str, chance: Random) -> tuple[int | None, ...]:
    driver: int | None = chance.randrange(11, 30)
    driven = chance.randrange(18, 45)
    if chance.random() < 0.1:
        driver = None
    return (driver, chance.randrange(14, 24), driven) if pair == "R" else (driver, driven)
