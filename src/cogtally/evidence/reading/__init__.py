"""What one posterior comes to: answer, verdict, remedy, nearest sets, hints, account.

It knows what may be said of a box and why. The probabilities are left to the engine, what is worth
counting next to `advice`, the words to `show`.
"""

from cogtally.evidence.reading.account import Account, Row, label
from cogtally.evidence.reading.answer import Answer, Rival, identify
from cogtally.evidence.reading.hints import Recount, TurnedRound
from cogtally.evidence.reading.nearest import (
    Difference,
    measure,
    turned_ratios,
)
from cogtally.evidence.reading.remedy import Change, Remedy
from cogtally.evidence.reading.verdict import (
    DENIED,
    NARROWED,
    NO,
    OPEN,
    RECOUNT,
    SURE,
    UNDECIDED,
    YES,
    Expectation,
    Foreign,
    Verdict,
    is_far_off,
    judge,
    likeliest_pieces,
)
from cogtally.evidence.reading.views import (
    Checked,
    CheckedPair,
    LookLine,
    MeshSum,
    PairLine,
    TurnRead,
    piece_look_lines,
)

__all__ = [
    "DENIED",
    "NARROWED",
    "NO",
    "OPEN",
    "RECOUNT",
    "SURE",
    "UNDECIDED",
    "YES",
    "Account",
    "Answer",
    "Change",
    "Checked",
    "CheckedPair",
    "Difference",
    "Expectation",
    "Foreign",
    "LookLine",
    "MeshSum",
    "PairLine",
    "Recount",
    "Remedy",
    "Rival",
    "Row",
    "TurnRead",
    "TurnedRound",
    "Verdict",
    "identify",
    "is_far_off",
    "judge",
    "label",
    "likeliest_pieces",
    "measure",
    "piece_look_lines",
    "turned_ratios",
]
