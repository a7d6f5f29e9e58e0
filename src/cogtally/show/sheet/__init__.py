"""A sheet to count in at the bench: what it asks for, and how it looks on paper.

Leaves what a family is to the catalog, and the drawing of its train to the room of trains.
"""

from __future__ import annotations

from cogtally.show.sheet.page import sheet_drawing
from cogtally.show.sheet.subject import Sheet, blank_sheet, family_sheet, sheet_json

__all__ = ["Sheet", "blank_sheet", "family_sheet", "sheet_drawing", "sheet_json"]
