"""Turn tests of an overdrive, which nothing is made of: its turns are no product of ratios.

All other turn tests are left to the answer.
"""

from __future__ import annotations

from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError
from cogtally.gears.trains import OVERDRIVE
from cogtally.gears.words import Seen


def refuse_overdrive_turns(catalog: Catalog, seen: Seen, family: str | None = None) -> None:
    """Raise UserError for a turn test in what is the pair of an overdrive, and a gear nowhere.

    `family`: the id of the only one that is asked about.
    """
    one = catalog.by_id.get(family) if family is not None else None
    asked = catalog.families if family is None else () if one is None else (one,)
    overdrives = {pair for f in asked if f.layout == OVERDRIVE for pair in f.train.pairs}
    if not overdrives:
        return
    gears = {gear for f in asked for gear in f.train.gears}
    for word in seen.words:
        turned = word.turn.gears if word.turn is not None else ()
        named = [gear for gear in turned if gear in overdrives and gear not in gears]
        if named:
            mend = f"count sun and annulus: {named[0]}=24/84"
            raise UserError("a turn test of an overdrive is not weighed", word.text, mend)
