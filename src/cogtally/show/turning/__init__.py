"""How it is told what turns, on screen and as JSON.

Leaves the reckoning to `gears.turning`.
"""

from cogtally.show.turning.json import turning_json
from cogtally.show.turning.screen import notes, show_turning

__all__ = ["notes", "show_turning", "turning_json"]
