"""How speeds on the road are told: tables, JSON and the chart.

Leaves the reckoning to `gears.road`.
"""

from cogtally.show.road.box import axle_of_set, box_of_set
from cogtally.show.road.drawing import chart_drawing
from cogtally.show.road.json import road_json
from cogtally.show.road.screen import notes, show_road

__all__ = ["axle_of_set", "box_of_set", "chart_drawing", "notes", "road_json", "show_road"]
