"""The JSON of `road --json`.

Keys are added, never changed, within a format number. All numbers are left to `gears.road_cars`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cogtally.gears.road import ROLLING_TOLERANCE, Asked, Car, OnTheRoad, Tyre
from cogtally.show.screen import catalog_json, exact_json, keys_of

if TYPE_CHECKING:
    from cogtally.catalog.model import Catalog

FORMAT = 1


def road_json(found: Sequence[OnTheRoad], asked: Asked, catalog: Catalog | None) -> dict[str, Any]:
    """Return all cars as plain lists, texts and numbers, in full double precision."""
    band = None if asked.band is None else {"low": asked.band[0], "high": asked.band[1]}
    document: dict[str, Any] = {"format": FORMAT, "units": asked.unit, "band": band}
    if catalog is not None:
        document["catalog"] = catalog_json(catalog)
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
                **keys_of(change, "rpm", "after", "drop"),
                **exact_json(change.keeps, "keeps", "keeps_decimal"),
            }
            for change in one.changes
        ],
        "at_speed": [
            {"speed": at.speed, "highest_gear": at.gear, "rpm": dict(at.rpm)} for at in one.at_speed
        ],
    }


def _behind(car: Car) -> dict[str, Any]:
    overdrive = car.overdrive
    return {
        "axle": {"text": car.axle.text, **exact_json(car.axle.ratio)},
        "overdrive": None
        if overdrive is None
        else {"text": overdrive.text, **exact_json(overdrive.ratio), "on": list(overdrive.on)},
    }


def _tyre(tyre: Tyre) -> dict[str, Any]:
    return {
        **keys_of(
            tyre, "text", "rolled_mm", "outside_mm", "turns_per_km", "turns_per_mile", "rule"
        ),
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
                **exact_json(row.ratio),
                **exact_json(row.overall, "overall", "overall_decimal"),
                "step_from": row.step_from,
                **exact_json(row.step, "step", "step_decimal"),
                "speed_per_1000_rpm": row.per_1000,
                "at_rpm": [
                    {"rpm": rpm, "speed": dict(speeds)[row.gear]} for rpm, speeds in one.at_rpm
                ],
                "band": band and keys_of(band, "slowest", "fastest", "overlap"),
            }
        )
    return found
