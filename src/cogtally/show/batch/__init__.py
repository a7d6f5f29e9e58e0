"""How the answers to many rows are told: their screen, and the file that they are written to.

Leaves the answers to `shelf.batch`.
"""

from cogtally.show.batch.file import Done, reading, writing
from cogtally.show.batch.screen import (
    BOX_COLUMNS,
    PIECE_COLUMNS,
    CsvLines,
    JsonLines,
    Lines,
    box_cells,
    box_document,
    piece_cells,
    piece_document,
)

__all__ = [
    "BOX_COLUMNS",
    "PIECE_COLUMNS",
    "CsvLines",
    "Done",
    "JsonLines",
    "Lines",
    "box_cells",
    "box_document",
    "piece_cells",
    "piece_document",
    "reading",
    "writing",
]
