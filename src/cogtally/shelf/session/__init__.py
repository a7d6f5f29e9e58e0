"""A session at the bench: its state, what a line says, what to ask next, its file.

Leaves the answers to the evidence, and what is printed to `show.session`.
"""

from cogtally.shelf.session.bench import (
    BACK as BACK,
    HELP as HELP,
    HOW as HOW,
    LOOKED as LOOKED,
    MARK as MARK,
    NAME as NAME,
    QUIT as QUIT,
    SEEN as SEEN,
    SKIP as SKIP,
    SURE as SURE,
    Bench as Bench,
    Outcome as Outcome,
    Question as Question,
    Step as Step,
    enter as enter,
    question_of as question_of,
)
from cogtally.shelf.session.files import (
    Asked as Asked,
    Session as Session,
    SessionFile as SessionFile,
    all_sessions as all_sessions,
    delete_session as delete_session,
    digest_of as digest_of,
    last_session as last_session,
    read_session as read_session,
)
from cogtally.shelf.session.proposals import (
    ALL_AGAIN as ALL_AGAIN,
    ALL_COUNTED as ALL_COUNTED,
    NAMED as NAMED,
    PIECE as PIECE,
    RECOUNT as RECOUNT,
    SPENT as SPENT,
    TIPPED as TIPPED,
    View as View,
    best_turn as best_turn,
    look as look,
)
