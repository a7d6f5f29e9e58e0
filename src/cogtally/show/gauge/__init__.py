"""How gauged gears are told: the explanations of one wheel, what to expect, whether two can run.

Knows screens and JSON. Leaves all reckoning to `gears.callipers`.
"""

from cogtally.show.gauge.screen import (
    notes as notes,
    show_ahead as show_ahead,
    show_gauging as show_gauging,
    show_together as show_together,
)
from cogtally.show.gauge.table import (
    ahead_json as ahead_json,
    gauging_json as gauging_json,
    together_json as together_json,
)
