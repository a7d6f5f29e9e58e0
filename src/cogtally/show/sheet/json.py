"""A sheet as JSON: what it asks for, in the order in which it asks.

What it asks for is left to `subject`.
"""

from __future__ import annotations

from typing import Any

from cogtally.show.box import FORMAT
from cogtally.show.sheet.subject import Sheet


def sheet_json(sheet: Sheet, file: str) -> dict[str, Any]:
    """Return what was written, and the wheels in the order to count in."""
    return {
        "format": FORMAT,
        "sheet": file,
        "title": sheet.title,
        "wheels": [
            {"number": row.number, "wheel": row.wheel, "piece": row.piece} for row in sheet.wheels
        ],
        "turns": [{"gear": row.gear, "in": row.turns} for row in sheet.turns],
        "pieces": [row.piece for row in sheet.pieces],
    }
