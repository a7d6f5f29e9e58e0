"""A mark or a feature to look at, in words, with what can be found there and of which sets.

What a look is worth is left to `evidence.look_worth`, when it is offered to whoever asks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cogtally.evidence.answer import Answer
from cogtally.evidence.posterior import likely
from cogtally.gears.looks import feature_name, value_text
from cogtally.show.screen.console import plain, written_list

if TYPE_CHECKING:
    from cogtally.evidence.look_worth import LookWorth

#: So many values are named, with so many sets for each.
VALUES_NAMED, SETS_NAMED = 3, 3
MARK = "mark"
#: The sets of an answer below this are not named.
LEAST = 0.005


def look_words(answer: Answer, look: LookWorth) -> str:
    """Return a look as `the mark of laygear (LG 3102: wide; LG 3104: close)`."""
    shown = {s for a in likely(answer.posterior.answers, LEAST) for s in a.sets}
    told = []
    for value, sets in look.values:
        named = [plain(name) for name in sets if name in shown]
        if named:
            said = value_text(look.feature, value)
            more = [f"{len(named) - SETS_NAMED} more"] if len(named) > SETS_NAMED else []
            told.append(f"{plain(said)}: {written_list([*named[:SETS_NAMED], *more], 'or')}")
    which = f" ({'; '.join(told[:VALUES_NAMED])})" if told else ""
    what = look.feature if look.feature == MARK else feature_name(look.feature)
    return f"the {what} of {plain(look.owner)}{which}"
