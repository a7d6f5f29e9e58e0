"""How gauged gears are told: the explanations of one wheel, what to expect, whether two can run.

Knows screens and JSON. Leaves all reckoning to `gears.callipers`.
"""

from cogtally.show.gauge.screen import notes, show_ahead, show_gauging, show_together
from cogtally.show.gauge.table import ahead_json, gauging_json, together_json

__all__ = [
    "ahead_json",
    "gauging_json",
    "notes",
    "show_ahead",
    "show_gauging",
    "show_together",
    "together_json",
]
