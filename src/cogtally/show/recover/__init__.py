"""How recovered teeth are told: the list, what it proves, what to count next.

Knows the screen and JSON. Leaves the search to `gears.recover`.
"""

from cogtally.show.recover.json import recovery_json
from cogtally.show.recover.screen import notes, show_recovery

__all__ = ["notes", "recovery_json", "show_recovery"]
