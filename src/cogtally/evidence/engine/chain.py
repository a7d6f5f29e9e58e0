"""How probable two answers are with more and more of what was seen: what an account is made of.

All parts of what was seen are questions of one evaluation. Which answers stand against each other
is left to `reading`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, log

import numpy as np

from cogtally.catalog.model import Catalog
from cogtally.evidence.engine.question import Asked, Question
from cogtally.evidence.engine.ready import Ready, ready
from cogtally.evidence.engine.stack import Array, Stack
from cogtally.evidence.engine.weigh import (
    LEAST_LOG,
    Part,
    log_of,
    unknown_logs,
    weigh_counted,
    weigh_new,
    weigh_printed,
)
from cogtally.evidence.laws import HAND_PRIOR, UNCATALOGUED_PRIOR
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
    chain = _Chain(known, Question(parts, known.rho), family)
    return np.array([chain.log_joint(share, so_far=so_far) for share in shares])


class _Chain:
    def __init__(self, known: Ready, question: Question, family: str | None) -> None:
        self._ready = known
        self._question = question
        self._only = family
        sets = known.catalog.by_id[family].sets if family is not None else ()
        self._commonness = known.commonness if family is None else fsum(s.commonness for s in sets)
        self._parts: dict[int, Part] = {}

    def log_joint(self, share: Share, *, so_far: bool) -> Array:
        """Return the log joint of one answer: [part]."""
        if share.kind == UNCATALOGUED:
            prior = UNCATALOGUED_PRIOR if self._commonness else 1.0
            return self._summed(unknown_logs(self._question) + log(prior))
        if share.kind not in (MATCHED, NEW):
            return self._of_all_families(share.kind)
        number = self._ready.places[share.family]
        if share.kind == NEW:
            stacks = self._ready.only(number)
            asked = [Asked(stack.shape, self._question) for stack in stacks]
            (new,) = weigh_new(stacks, asked, self._question, self._commonness)
            return self._summed(log_of(new.value[0]) + new.log_scale[0])
        printed = [one for one in self._ready.printed(number) if one.known.id in share.sets]
        if printed:
            logs = [weigh_printed(number, p, self._question, self._commonness) for p in printed]
            return self._summed(np.logaddexp.reduce([one.logs for one in logs]))
        part = self._part(number)
        base = next(
            base for base, sets in enumerate(self._ready.set_ids(number)) if share.sets[0] in sets
        )
        values = part.groups if so_far else part.matched
        return self._summed(log_of(values[0, :, base]) + part.log_scale[0])

    def _weighed(self, stacks: Sequence[Stack]) -> list[Part]:
        """Families beside each other alone, however little they weigh beside all else."""
        asked = [Asked(stack.shape, self._question) for stack in stacks]
        nothing = np.full(self._question.count, LEAST_LOG)
        return weigh_counted(self._ready, stacks, asked, self._question, self._commonness, nothing)

    def _part(self, number: int) -> Part:
        if number not in self._parts:
            (self._parts[number],) = self._weighed(self._ready.only(number))
        return self._parts[number]

    def _of_all_families(self, kind: str) -> Array:
        """Mixed or variant boxes of every family."""
        stacks = self._ready.stacks
        if self._only is not None:
            stacks = self._ready.only(self._ready.places[self._only])
        logs = []
        for part in self._weighed(stacks):
            matched = 0.0 if part.asked.lacks else part.matched.sum(axis=2)
            value = part.whole - part.related if kind == MIXED else part.related - matched
            logs.append(log_of(value) + part.log_scale)
        return self._summed(np.logaddexp.reduce(np.concatenate(logs)))

    def _summed(self, logs: Array) -> Array:
        """The sum over both hands: [part]."""
        hands = np.log(HAND_PRIOR)
        found: Array = np.logaddexp.reduce(logs.reshape(-1, len(hands)) + hands, axis=1)
        return found
