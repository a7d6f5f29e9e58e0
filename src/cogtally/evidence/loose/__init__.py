"""The posterior of a loose piece, from counts along its axis, marks and features.

It knows which types of a catalog can lie under what was seen, listed or not, and what to say of
them. How a piece is typed is left to `gears`, the constants and laws of what is seen to its
neighbours here, words to `show`.
"""

from cogtally.evidence.loose.candidates import pool_of_all
from cogtally.evidence.loose.groups import (
    SMALL_GAIN,
    LooseGroup,
    LooseShare,
    Mate,
    Member,
    Off,
    Parting,
    counted_teeth,
    partings,
)
from cogtally.evidence.loose.posterior import loose_posterior
from cogtally.evidence.loose.reading import (
    PIECE,
    RECOUNT,
    TYPE,
    UNLISTED,
    LooseAnswer,
    LooseVerdict,
    identify_piece,
)

__all__ = [
    "MARK",
    "PIECE",
    "RECOUNT",
    "SMALL_GAIN",
    "TYPE",
    "UNLISTED",
    "LooseAnswer",
    "LooseGroup",
    "LooseShare",
    "LooseVerdict",
    "Mate",
    "Member",
    "Off",
    "Parting",
    "counted_teeth",
    "identify_piece",
    "loose_posterior",
    "partings",
    "pool_of_all",
]
