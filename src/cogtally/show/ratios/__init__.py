"""How a table of ratios is told, on screen and as JSON.

Leaves the reckoning to `gears.ratios`.
"""

from cogtally.show.ratios.json import ratios_json
from cogtally.show.ratios.screen import (
    MARK,
    NOTHING,
    OVERALL_PLACES,
    RATIO_PLACES,
    STEP_PLACES,
    decimal,
    notes,
    show_ratios,
)

__all__ = [
    "MARK",
    "NOTHING",
    "OVERALL_PLACES",
    "RATIO_PLACES",
    "STEP_PLACES",
    "decimal",
    "notes",
    "ratios_json",
    "show_ratios",
]
