"""How speeds on the road are told: tables, JSON and the chart.

Leaves the reckoning to `gears.road`.
"""

from cogtally.show.road.drawing import chart_drawing as chart_drawing
from cogtally.show.road.screen import (
    axle_of_set as axle_of_set,
    box_of_set as box_of_set,
    notes as notes,
    road_json as road_json,
    show_road as show_road,
)
