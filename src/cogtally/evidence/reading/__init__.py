"""What one posterior comes to: answer, verdict, remedy, nearest sets, hints, account.

It knows what may be said of a box and why. The probabilities are left to the engine, what is worth
counting next to `advice`, the words to `show`.
"""

from cogtally.evidence.reading.account import Account as Account, Row as Row, label as label
from cogtally.evidence.reading.answer import Answer as Answer, Rival as Rival, identify as identify
from cogtally.evidence.reading.hints import Recount as Recount, TurnedRound as TurnedRound
from cogtally.evidence.reading.nearest import Difference as Difference, measure as measure
from cogtally.evidence.reading.remedy import Change as Change, Remedy as Remedy
from cogtally.evidence.reading.verdict import (
    DENIED as DENIED,
    NARROWED as NARROWED,
    NO as NO,
    OPEN as OPEN,
    RECOUNT as RECOUNT,
    SURE as SURE,
    UNDECIDED as UNDECIDED,
    YES as YES,
    Expectation as Expectation,
    Foreign as Foreign,
    Verdict as Verdict,
    is_far_off as is_far_off,
    judge as judge,
    likeliest_pieces as likeliest_pieces,
)
from cogtally.evidence.reading.views import (
    Checked as Checked,
    CheckedPair as CheckedPair,
    LookLine as LookLine,
    PairLine as PairLine,
    TurnRead as TurnRead,
    piece_look_lines as piece_look_lines,
)
