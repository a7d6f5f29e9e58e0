"""Families of invented sets, as many as a test asks for.

What is done with them is left to the tests.
"""

from __future__ import annotations

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
