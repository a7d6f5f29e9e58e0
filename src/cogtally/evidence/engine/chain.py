"""How probable two answers are with more and more of what was seen: what an account is made of.

All parts of what was seen are questions of one evaluation. Which answers stand against each other
is left to `reading`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import log

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.question import Question
from cogtally.evidence.engine.ready import Ready, ready
from cogtally.evidence.engine.stack import Array
from cogtally.evidence.engine.weigh import Weighed, log_of, weigh
from cogtally.evidence.laws import HAND_PRIOR
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, Share
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
    question = Question(parts, known.rho)
    # Families are weighed however little they are beside all else.
    weighed = cache(lambda name: weigh(known, question, name, every=True))
    found = []
    for share in shares:
        one = weighed(share.family or family)
        logs = _logs(known, one, share, so_far=so_far)
        if share.family and family is None:
            logs = logs + log(one.commonness / known.commonness)
        # The sum over both hands.
        hands = np.log(HAND_PRIOR)
        found.append(np.logaddexp.reduce(logs.reshape(-1, len(hands)) + hands, axis=1))
    return np.array(found)


def _logs(known: Ready, weighed: Weighed, share: Share, *, so_far: bool) -> Array:
    """The log joint of one answer: [question]."""
    if share.kind == UNCATALOGUED:
        return weighed.uncatalogued
    if share.kind == NEW:
        (new,) = weighed.new
        return np.asarray(log_of(new.value[0]) + new.log_scale[0])
    if share.kind == MATCHED:
        printed = [one.logs for one in weighed.printed if one.known.known.id in share.sets]
        if printed:
            return np.asarray(np.logaddexp.reduce(printed))
        (part,) = weighed.parts
        values = part.groups if so_far else part.matched
        sets = known.set_ids(int(part.stack.numbers[0]))
        base = next(base for base, ids in enumerate(sets) if share.sets[0] in ids)
        return np.asarray(log_of(values[0, :, base]) + part.log_scale[0])
    logs = []
    for part in weighed.parts:
        mixed, variant = part.rest
        logs.append(log_of(mixed if share.kind == MIXED else variant) + part.log_scale)
    return np.asarray(np.logaddexp.reduce(np.concatenate(logs)))
