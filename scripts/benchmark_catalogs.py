"""Know the catalogs that are measured, and the boxes that are asked about: seeded, invented.

What is done with them is left to the parts of `benchmark`.
"""

from __future__ import annotations

import atexit
import random
from collections.abc import Sequence
from functools import cache, lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from benchmark_measure import SEED

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.gears.notation import Seen, parse_seen

if TYPE_CHECKING:
    from numpy.typing import NDArray

SETS_A_FAMILY = 5
#: Pairs counted of the five-speed box: twelve wheels and an idler, ten, four, two, none.
COUNTED = {13: 6, 10: 5, 6: 3, 4: 2, 2: 1, 0: 0}
#: The wheels of a made box, pair by pair, as they are counted.
PAIRS = ("input", "1", "2", "3", "5", "R")
ROLES = ("driver", "driven")

Box = dict[str, tuple[int | None, ...]]


def made_family(dice: random.Random, name: str, sets: int = SETS_A_FAMILY) -> Family:
    """Return a five-speed family; a set has mostly the pairs of the one before, but for one."""
    whole = dice.randint(42, 58)
    found: list[RatioSet] = []
    for index in range(sets):
        first = dice.randint(15, 22)
        pairs: Box = {"input": (first, whole - first)}
        for gear, teeth in zip("1235", sorted(dice.sample(range(13, whole - 14), 4)), strict=True):
            pairs[gear] = (teeth, whole - teeth)
        pairs["R"] = (13, 20, whole - 18)
        if found and dice.random() < 0.8:
            changed = dice.choice(list(pairs))
            pairs = {**found[-1].pairs, changed: pairs[changed]}
        found.append(RatioSet(f"s{index}", pairs=pairs, commonness=dice.choice([1, 2, 3])))
    return Family(name, "layshaft", sets=tuple(found), direct="4")


@lru_cache(maxsize=4)
def made(families: int) -> Catalog:
    """Return a seeded catalog of five-speed boxes, five sets a family."""
    dice = random.Random(SEED)
    return Catalog(tuple(made_family(dice, f"made-{number}") for number in range(families)))


def of_sets(sets: int) -> Catalog:
    """Return the made catalog of so many sets."""
    return made(sets // SETS_A_FAMILY)


def box(catalog: Catalog, number: int) -> Box:
    """Return one of the boxes that are asked about: all teeth of a seeded set."""
    dice = random.Random(SEED + number)
    return dict(dice.choice(dice.choice(catalog.families).sets).pairs)


def words_of(pairs: Box, counts: int) -> list[str]:
    """Return the counts of a box as typed, its first pairs alone."""
    return [f"{p}={'/'.join(map(str, pairs[p]))}" for p in PAIRS[: COUNTED[counts]]]


def questions(catalog: Catalog, counts: int, number: int) -> list[tuple[Seen, list[int]]]:
    """Return so many boxes, as seen, and the plain counts of their drivers and driven wheels."""
    found = []
    for each in range(number):
        pairs = box(catalog, each)
        plain = [t or 0 for p in PAIRS[: COUNTED[counts]] for t in (pairs[p][0], pairs[p][-1])]
        found.append((parse_seen(words_of(pairs, counts)), plain))
    return found


def fresh(words: Sequence[str], number: int) -> Seen:
    """Return the same counts as a question that was not asked before."""
    return parse_seen([*words, f"{20 + number}=_/_"])


def teeth_array(catalog: Catalog) -> NDArray[Any]:
    """Return the teeth as bytes, [wheel, set]: driver and driven of each pair, in their order."""
    import numpy as np

    rows = [
        [known.pairs[p][end] for p in PAIRS for end in (0, -1)]
        for family in catalog.families
        for known in family.sets
    ]
    return np.ascontiguousarray(np.array(rows, np.uint8).T)


@cache
def kept_book(sets: int) -> Path:
    """Return a book that keeps the made catalog of so many sets, until this program ends."""
    from cogtally.catalog.book import make_catalog_book

    place = _folder() / f"made-{sets}.db"
    make_catalog_book(place, of_sets(sets).families)
    return place


@cache
def kept_toml(sets: int) -> Path:
    """Return a folder with the made catalog of so many sets as TOML, a hundred families a file."""
    from cogtally.catalog.files.writers import toml_of

    place = _folder() / f"made-{sets}"
    place.mkdir()
    families = of_sets(sets).families
    for first in range(0, len(families), 100):
        text = toml_of(families[first : first + 100])
        (place / f"made-{first}.toml").write_text(text, encoding="utf-8")
    return place


@cache
def _folder() -> Path:
    folder = TemporaryDirectory()
    atexit.register(folder.cleanup)
    return Path(folder.name)
