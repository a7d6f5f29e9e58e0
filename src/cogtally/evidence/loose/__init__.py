"""The posterior of a loose piece, from counts along its axis, marks and features.

It knows which types of a catalog can lie under what was seen, listed or not, and what to say of
them. How a piece is typed is left to `gears`, the constants and laws of what is seen to its
neighbours here, words to `show`.
"""

from cogtally.evidence.loose.candidates import pool_of_all as pool_of_all
from cogtally.evidence.loose.groups import (
    LooseGroup as LooseGroup,
    LooseShare as LooseShare,
    Mate as Mate,
    Member as Member,
    Off as Off,
    Parting as Parting,
    counted_teeth as counted_teeth,
    partings as partings,
)
from cogtally.evidence.loose.posterior import LoosePosterior as LoosePosterior
from cogtally.evidence.loose.reading import (
    PIECE as PIECE,
    RECOUNT as RECOUNT,
    TYPE as TYPE,
    UNLISTED as UNLISTED,
    LooseAnswer as LooseAnswer,
    LooseVerdict as LooseVerdict,
    Meant as Meant,
    identify_piece as identify_piece,
)
