"""Labels to print: what stands on each, and where each stands on a sheet or a roll.

Leaves what an item is, and how sure that is, to the shelf.
"""

from __future__ import annotations

from cogtally.show.labels.label import asked_link, labels_drawing, small_labels
from cogtally.show.labels.sheet import Sheet, asked_sheet

__all__ = ["Sheet", "asked_link", "asked_sheet", "labels_drawing", "small_labels"]
