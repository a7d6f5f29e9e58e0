"""The JSON of `road --json`.

Keys are added, never changed, within a format number. All numbers are left to `gears.road_cars`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cogtally.gears.road import ROLLING_TOLERANCE, Asked, Car, OnTheRoad, Tyre

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog

FORMAT = 1


def road_json(found: Sequence[OnTheRoad], asked: Asked, catalog: Catalog | None) -> dict[str, Any]:
    """Return all cars as plain lists, texts and numbers, in full double precision."""
    band = None if asked.band is None else {"low": asked.band[0], "high": asked.band[1]}
    document: dict[str, Any] = {"format": FORMAT, "units": asked.unit, "band": band}
    if catalog is not None:
        document["catalog"] = {
            "name": catalog.name,
            "families": len(catalog.by_id),
            "sets": catalog.set_count,
            "demo": catalog.demo,
        }
    return {**document, "cars": [_car_json(one) for one in found]}


def _car_json(one: OnTheRoad) -> dict[str, Any]:
    car = one.car
    return {
        "box": {
            "name": car.box.name or None,
            "printed": list(car.box.printed),
            "missing": [
                {"gear": gear, "not_counted": list(wheels)} for gear, wheels in car.box.missing
            ],
        },
        **_behind(car),
        "tyre": _tyre(car.tyre),
        "gears": _gears(one),
        "changes": [
            {
                "from": change.lower,
                "to": change.upper,
                "rpm": change.rpm,
                "after": change.after,
                "drop": change.drop,
                "keeps": str(change.keeps),
                "keeps_decimal": float(change.keeps),
            }
            for change in one.changes
        ],
        "at_speed": [
            {
                "speed": at.speed,
                "highest_gear": at.gear,
                "rpm": dict(at.rpm),
            }
            for at in one.at_speed
        ],
    }


def _behind(car: Car) -> dict[str, Any]:
    overdrive = car.overdrive
    return {
        "axle": {
            "text": car.axle.text,
            "ratio": str(car.axle.ratio),
            "decimal": float(car.axle.ratio),
        },
        "overdrive": None
        if overdrive is None
        else {
            "text": overdrive.text,
            "ratio": str(overdrive.ratio),
            "decimal": float(overdrive.ratio),
            "on": list(overdrive.on),
        },
    }


def _tyre(tyre: Tyre) -> dict[str, Any]:
    return {
        "text": tyre.text,
        "rolled_mm": tyre.rolled_mm,
        "outside_mm": tyre.outside_mm,
        "turns_per_km": tyre.turns_per_km,
        "turns_per_mile": tyre.turns_per_mile,
        "rule": tyre.rule,
        "height_estimated": tyre.estimated,
        "tolerance": None if tyre.rule is None else ROLLING_TOLERANCE,
    }


def _gears(one: OnTheRoad) -> list[dict[str, Any]]:
    bands = {band.gear: band for band in one.bands}
    found = []
    for row in one.rows:
        band = bands.get(row.gear)
        found.append(
            {
                "gear": row.gear,
                "ratio": str(row.ratio),
                "decimal": float(row.ratio),
                "overall": str(row.overall),
                "overall_decimal": float(row.overall),
                "step_from": row.step_from,
                "step": None if row.step is None else str(row.step),
                "step_decimal": None if row.step is None else float(row.step),
                "speed_per_1000_rpm": row.per_1000,
                "at_rpm": [
                    {"rpm": rpm, "speed": dict(speeds)[row.gear]} for rpm, speeds in one.at_rpm
                ],
                "band": None
                if band is None
                else {
                    "slowest": band.slowest,
                    "fastest": band.fastest,
                    "overlap": band.overlap,
                },
            }
        )
    return found
