"""How probable two answers are with more and more of what was seen: what an account is made of.

All parts of what was seen are questions of one evaluation. Which answers stand against each other
is left to `reading`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.question import Question
from cogtally.evidence.engine.ready import ready
from cogtally.evidence.engine.stack import Array, row_in
from cogtally.evidence.engine.weigh import New, Part, Weighed, log_of, weigh
from cogtally.evidence.laws import HAND_PRIOR
from cogtally.evidence.posterior import MIXED, NEW, UNCATALOGUED, VARIANT, Share
from cogtally.gears.notation import Seen


def log_joints(
    catalog: Catalog,
    parts: Sequence[Seen],
    shares: Sequence[Share],
    *,
    so_far: bool = False,
    family: str | None = None,
) -> Array:
    """Return log P(answer, all that is in a part) of each answer and part: [answer, part].

    `parts`: more and more of what was seen, the last of which is the whole box; it says what the
    answers are, so-far groups where `so_far`. `family`: the id of the only one asked about.
    """
    known = ready(catalog)
    named = {share.family for share in shares if share.family}
    if any(share.kind in (MIXED, VARIANT) for share in shares):
        named = set()
    weighed = weigh(known, Question(parts, known.rho), family, only=named)
    logs = np.array([_logs(weighed, share, so_far=so_far) for share in shares])
    # The sum over both hands.
    hands = np.log(HAND_PRIOR)
    by_hand = logs.reshape(len(shares), -1, len(hands)) + hands
    return np.asarray(np.logaddexp.reduce(by_hand, axis=2))


def _logs(weighed: Weighed, share: Share, *, so_far: bool) -> Array:
    """The log joint of one answer: [question]."""
    if share.kind == UNCATALOGUED:
        return weighed.uncatalogued
    if share.kind in (MIXED, VARIANT):
        logs = []
        for each in weighed.parts:
            mixed, variant = each.rest
            logs.append(log_of(mixed if share.kind == MIXED else variant) + each.log_scale)
        return np.asarray(np.logaddexp.reduce(np.concatenate(logs)))
    number = weighed.ready.places[share.family]
    parts: Sequence[Part | New] = weighed.new if share.kind == NEW else weighed.parts
    at = row_in([each.stack for each in parts], number)
    mine = [one for one in weighed.printed if one.number == number]
    printed = [one.logs for one in mine if one.known.known.id in share.sets]
    if printed or at is None:
        return np.asarray(np.logaddexp.reduce(printed))
    part, row = parts[at[0]], at[1]
    if isinstance(part, New):
        value = part.value[row]
    else:
        sets = weighed.ready.set_ids(number)
        base = next(base for base, ids in enumerate(sets) if share.sets[0] in ids)
        value = (part.groups if so_far else part.matched)[row, :, base]
    return np.asarray(log_of(value) + part.log_scale[row])
