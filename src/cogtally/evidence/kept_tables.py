"""Small tables of a book's families: which of them a question needs, without numpy.

How a family is bounded is left to `kept_bounds`, the file and the catalog to `kept`; whatever the
tables cannot say is asked of the whole catalog.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from math import log
from operator import add
from typing import Any

from cogtally.catalog.model import Catalog, Family
from cogtally.catalog.search.index_file import Part, Parts
from cogtally.evidence import likelihood as law
from cogtally.evidence.counted import counted_wheels
from cogtally.evidence.family_view import view_by_names
from cogtally.evidence.kept_bounds import KeptFamily, Known, ShapeBounds, that_matter
from cogtally.evidence.parts import Unknown
from cogtally.evidence.rho import Rho
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.stacked_shape import StackShape, Star, shape_of_family
from cogtally.gears.notation import Seen

#: Where so many families are left by the bounds, all are read.
FEWEST = 60
#: Families that no table bounds are always read; where they are a greater part, all are.
MOST_OTHERS = 1 / 10
#: What the bounds may leave out together: a small part of what is left out elsewhere.
LEAST = 1e-13
#: So many likely families are asked for a bound from below on all that was seen.
LIKELIEST = 3
#: Rounding in the greatest bound: whichever family is the likeliest is among these.
NEARLY = 1e-9

_LOG_UNCATALOGUED = log(law.UNCATALOGUED_PRIOR * min(law.HAND_PRIOR))


class Tables:
    """The tables of one state of a book, as they were written."""

    def __init__(self, head: Mapping[str, Any], parts: Parts) -> None:
        self.commonness: float = head["commonness"]
        self.others: list[int] = head["others"]
        self.families: int = len(head["ids"])
        self.known = [tuple(t) for t in head["teeth"]]
        self.sums = [tuple(t) for t in head["sums"]]
        self.shapes = [
            _Shape(shape, parts.raw(f"teeth.{place}")) for place, shape in enumerate(head["shapes"])
        ]

    def that_matter(self, box: SeenBox, rho: Rho) -> set[int] | None:
        """Return the places of the families that can matter; None where those are many."""
        known = Known(rho, self.known, self.sums, self.commonness)
        families: list[tuple[KeptFamily, _Shape, ShapeBounds]] = []
        for shape in self.shapes:
            wheels = {wheel: wheel for wheel in shape.shape.wheels}
            view = view_by_names(box, wheels.get, (), 0.0)
            bounds = ShapeBounds(shape.shape, view, box, known)
            families.extend((family, shape, bounds) for family in shape.families)
        if not families:
            return None
        quick = [bounds.quick(family) for family, _, bounds in families]
        first = max(quick)
        likeliest = sorted(range(len(quick)), key=lambda n: -quick[n])[:LIKELIEST]
        total = max(Unknown(box).logs) + _LOG_UNCATALOGUED
        for number in likeliest:
            family, shape, bounds = families[number]
            for commonness, teeth in shape.sets_of(family):
                total = max(total, bounds.at_least(commonness, teeth))
        left = that_matter(quick, total, LEAST / 2)
        sharp = [families[n][2].sharp(families[n][0]) for n in left]
        kept = {left[n] for n in that_matter(sharp, total, LEAST / 2)}
        kept.update(n for n, bound in enumerate(quick) if bound >= first - NEARLY)
        if len(kept) + len(self.others) >= FEWEST:
            return None
        return {families[n][0].number for n in kept} | set(self.others)

    def nearest(self, seen: Seen, most: int, others: Iterable[Family]) -> set[int] | None:
        """Return the places of the families of the nearest sets; None where those are many."""
        from cogtally.evidence.reading.nearest import teeth_away

        counted = {wheel: c.teeth for wheel, c in counted_wheels(seen).items()}
        away = [shape.away(counted) for shape in self.shapes]
        every = sorted(
            [
                *(value for values in away for value in values),
                *(teeth_away(f, s, counted_wheels(seen, f)) for f in others for s in f.sets),
            ]
        )
        if len(every) < most or every[most - 1] == float("inf"):
            return None
        bar = every[most - 1]
        found = {
            number
            for shape, values in zip(self.shapes, away, strict=True)
            for number, value in zip(shape.owners, values, strict=True)
            if value <= bar
        }
        return None if len(found) >= FEWEST else found | set(self.others)


class _Shape:
    """The families of one shape, and the teeth of all their counted sets, wheel by wheel."""

    def __init__(self, shape: Mapping[str, Any], teeth: memoryview) -> None:
        stars = [Star(tuple(hub), tuple(map(tuple, arms))) for hub, arms in shape["stars"]]
        self.shape = StackShape(tuple(stars))
        self.commonness: list[float] = shape["commonness"]
        size = len(self.commonness)
        self._teeth = {
            wheel: bytes(teeth[i * size : (i + 1) * size])
            for i, wheel in enumerate(self.shape.wheels)
        }
        self.families: list[KeptFamily] = []
        self.owners: list[int] = []
        for number, commonness, least, raised, own, sums, hubs, sets in shape["families"]:
            ends = (len(self.owners), len(self.owners) + sets)
            self.families.append(
                KeptFamily(number, commonness, least, raised, own, sums, hubs, ends)
            )
            self.owners.extend([number] * sets)

    def sets_of(self, family: KeptFamily) -> Iterable[tuple[float, list[int]]]:
        """Return the commonness and the teeth of each counted set of a family."""
        for at in range(*family.sets):
            yield self.commonness[at], [column[at] for column in self._teeth.values()]

    def away(self, counted: Mapping[str, int]) -> list[int]:
        """Return the sum of |count − teeth| of every set, a wheel that it lacks with all its teeth.

        Sets of such families have no gaps.
        """
        lacking = sum(teeth for wheel, teeth in counted.items() if wheel not in self._teeth)
        found = [lacking] * len(self.owners)
        for wheel, teeth in counted.items():
            if wheel in self._teeth:
                off = self._teeth[wheel].translate(bytes(abs(teeth - t) for t in range(256)))
                found = list(map(add, found, off))
        return found


def tables_of(catalog: Catalog) -> dict[str, Part] | None:
    """Return the parts of the tables of a catalog; None where they would be of little use."""
    from cogtally.evidence.prepared import prepare

    ready = prepare(catalog)
    shapes: dict[StackShape, list[tuple[int, Family]]] = {}
    others = []
    for number, family in enumerate(catalog.families):
        shape = None
        if family.counted_sets and not family.ratio_only_sets:
            shape = shape_of_family(family)
        if shape is None or set(shape.wheels) != set(family.train.names):
            others.append(number)
        else:
            shapes.setdefault(shape, []).append((number, family))
    if len(others) > MOST_OTHERS * len(catalog.families):
        return None
    teeth_places: dict[tuple[int, ...], int] = {}
    sums_places: dict[tuple[int, ...], int] = {}
    parts: dict[str, Part] = {}
    built = []
    for place, (shape, members) in enumerate(shapes.items()):
        meshes = [mesh for star in shape.stars for mesh in star.meshes]
        rows = []
        columns: list[list[int]] = [[] for _ in shape.wheels]
        for number, family in members:
            prior = ready.family(family)
            listed = [prior.reach[w][0] for w in shape.wheels]
            sums = [family.sums.get((a, b)) or family.sums[b, a] for a, b in meshes]
            by_wheels = {p.wheels: family.types[p.name] for p in family.pieces}
            rows.append(
                [
                    number,
                    sum(s.commonness for s in family.counted_sets),
                    min(prior.least_normalisers),
                    [prior.reach[w][1] for w in shape.wheels],
                    [teeth_places.setdefault(t, len(teeth_places)) for t in listed],
                    [sums_places.setdefault(t, len(sums_places)) for t in sums],
                    [[kind.teeth for kind in by_wheels[star.hub]] for star in shape.stars],
                    len(family.counted_sets),
                ]
            )
            for known in family.counted_sets:
                teeth = family.teeth_of(known)
                for column, wheel in zip(columns, shape.wheels, strict=True):
                    column.append(teeth[wheel] or 0)
        parts[f"teeth.{place}"] = b"".join(map(bytes, columns))
        built.append(
            {
                "stars": [[star.hub, star.arms] for star in shape.stars],
                "commonness": [s.commonness for _, f in members for s in f.counted_sets],
                "families": rows,
            }
        )
    head = {
        "ids": [family.id for family in catalog.families],
        "pools": [[name, list(pool.items())] for name, pool in ready.rho.pools.items()],
        "commonness": ready.commonness,
        "others": others,
        "teeth": list(teeth_places),
        "sums": list(sums_places),
        "shapes": built,
    }
    parts["head"] = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    return parts
