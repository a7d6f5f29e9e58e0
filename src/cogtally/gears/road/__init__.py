"""What ratios do on the road: speed at engine speed and back, tyres, axles, overdrives.

Leaves which box is meant to the catalog, and how it looks to `show`.
"""

from cogtally.gears.road.cars import (
    MOST_SPEEDS as MOST_SPEEDS,
    Asked as Asked,
    Axle as Axle,
    Box as Box,
    Car as Car,
    OnTheRoad as OnTheRoad,
    Overdrive as Overdrive,
    are_ratios as are_ratios,
    box_of_counts as box_of_counts,
    line_up as line_up,
    on_the_road as on_the_road,
    parse_axle_ratio as parse_axle_ratio,
    parse_band as parse_band,
    parse_gears as parse_gears,
    parse_overdrive_ratio as parse_overdrive_ratio,
    parse_ratios as parse_ratios,
    parse_rpm as parse_rpm,
    parse_speed as parse_speed,
    parse_unit as parse_unit,
)
from cogtally.gears.road.speed import (
    ROLLING_TOLERANCE as ROLLING_TOLERANCE,
    Tooth as Tooth,
    Tyre as Tyre,
    parse_tyre as parse_tyre,
)
