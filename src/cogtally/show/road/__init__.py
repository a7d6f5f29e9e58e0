"""How speeds on the road are told: tables, JSON and the chart.

Leaves the reckoning to `gears.road`.
"""

from cogtally.show.road.drawing import chart_drawing
from cogtally.show.road.screen import axle_of_set, box_of_set, notes, road_json, show_road

__all__ = ["axle_of_set", "box_of_set", "chart_drawing", "notes", "road_json", "show_road"]
