"""A session at the bench: its state, what a line says, what to ask next, its file.

Leaves the answers to the evidence, and what is printed to `show.session`.
"""

from cogtally.shelf.session.bench import LOOKED, NAME, SURE, Bench, Outcome, Step, enter
from cogtally.shelf.session.entry import (
    BACK,
    HELP,
    HOW,
    MARK,
    QUIT,
    SEEN,
    SKIP,
    Question,
    question_of,
)
from cogtally.shelf.session.files import (
    SessionFile,
    all_sessions,
    default_folder,
    delete_session,
    last_session,
    read_session,
)
from cogtally.shelf.session.proposals import (
    ALL_AGAIN,
    ALL_COUNTED,
    NAMED,
    PIECE,
    RECOUNT,
    SPENT,
    TIPPED,
    View,
    best_turn,
    look,
)
from cogtally.shelf.session.record import Asked, Session, digest_of

__all__ = [
    "ALL_AGAIN",
    "ALL_COUNTED",
    "BACK",
    "HELP",
    "HOW",
    "LOOKED",
    "MARK",
    "NAME",
    "NAMED",
    "PIECE",
    "QUIT",
    "RECOUNT",
    "SEEN",
    "SKIP",
    "SPENT",
    "SURE",
    "TIPPED",
    "Asked",
    "Bench",
    "Outcome",
    "Question",
    "Session",
    "SessionFile",
    "Step",
    "View",
    "all_sessions",
    "best_turn",
    "default_folder",
    "delete_session",
    "digest_of",
    "enter",
    "last_session",
    "look",
    "question_of",
    "read_session",
]
