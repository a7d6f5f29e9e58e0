"""How a loose piece is told: screen, JSON, what to do next.

Leaves what is true of it to `evidence.loose`.
"""

from cogtally.show.piece.screen import (
    off_json as off_json,
    piece_json as piece_json,
    show_piece as show_piece,
)
