"""What ratios do on the road: speed at engine speed and back, tyres, axles, overdrives.

Leaves which box is meant to the catalog, and how it looks to `show`.
"""

from cogtally.gears.road.cars import (
    MOST_SPEEDS,
    Asked,
    Axle,
    Box,
    Car,
    OnTheRoad,
    Overdrive,
    are_ratios,
    box_of_counts,
    line_up,
    on_the_road,
    parse_axle_ratio,
    parse_band,
    parse_gears,
    parse_overdrive_ratio,
    parse_ratios,
    parse_rpm,
    parse_speed,
    parse_unit,
)
from cogtally.gears.road.speed import ROLLING_TOLERANCE, Tooth, Tyre, parse_tyre

__all__ = [
    "MOST_SPEEDS",
    "ROLLING_TOLERANCE",
    "Asked",
    "Axle",
    "Box",
    "Car",
    "OnTheRoad",
    "Overdrive",
    "Tooth",
    "Tyre",
    "are_ratios",
    "box_of_counts",
    "line_up",
    "on_the_road",
    "parse_axle_ratio",
    "parse_band",
    "parse_gears",
    "parse_overdrive_ratio",
    "parse_ratios",
    "parse_rpm",
    "parse_speed",
    "parse_tyre",
    "parse_unit",
]
