"""Why: the headline against its strongest rival, row by row, in bits.

The first row is the prior odds, then comes each thing seen, in the order in which it was written;
each row is log2 P(row | rows before it, A) / P(row | rows before it, B), so that the rows add up
to the log of the posterior odds by the chain rule.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import fsum, log
from typing import NamedTuple

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import log_joints
from cogtally.evidence.laws import reading_of
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    NEW,
    UNCATALOGUED,
    VARIANT,
    Posterior,
    Share,
)
from cogtally.evidence.reading.nearest import product, set_ratios
from cogtally.evidence.reading.verdict import headline_share
from cogtally.evidence.reading.views import listed_text
from cogtally.gears.looks import COUNTED, feature_name, value_text
from cogtally.gears.notation import Count, ReadFeature, ReadMark, Seen, Turn, Word


class Row(NamedTuple):
    """One row: what was seen (`prior` for the first), its bits for the headline, and a sentence."""

    seen: str
    bits: float
    because: str


class Account(NamedTuple):
    """The headline, its strongest rival of the same kind, the rows between them and their sum.

    `so_far`: both are groups of sets alike in every counted wheel, not answers for the whole box.
    """

    headline: Share
    rival: Share
    so_far: bool
    rows: tuple[Row, ...]

    @property
    def total(self) -> float:
        """The sum of the rows: log2 of the posterior odds."""
        return fsum(row.bits for row in self.rows)


def account(
    catalog: Catalog,
    seen: Seen,
    found: Posterior,
    shown: Sequence[Share],
    family: str | None = None,
) -> Account | None:
    """Return the account of what is said of a box; None where nothing is a rival.

    `shown`: the answers beside the headline, falling. A wheel that was not counted is worth 0 bits
    and says so.
    """
    chosen = _sides(found, shown)
    if chosen is None:
        return None
    headline, rival, so_far = chosen
    logs = log_joints(catalog, [*_prefixes(seen)], (headline, rival), so_far=so_far, family=family)
    bits = ((logs[0] - logs[1]) / log(2)).tolist()
    rows = [Row("prior", bits[0], prior_reason(headline, rival, bits[0]))]
    for one, before, after in zip([*seen.words, *seen.looks], bits, bits[1:], strict=False):
        rows.append(Row(one.text, after - before, reason(catalog, one, headline, rival)))
    rows += _uncounted(catalog, seen, (headline, rival))
    return Account(headline, rival, so_far, tuple(rows))


def _prefixes(seen: Seen) -> Iterator[Seen]:
    """Nothing of what was seen, then one thing more each: words, marks, features."""
    for count in range(len(seen.words) + 1):
        yield Seen(seen.words[:count])
    for count in range(1, len(seen.looks) + 1):
        features = seen.features[: max(count - len(seen.marks), 0)]
        yield Seen(seen.words, seen.marks[:count], features)


def _sides(found: Posterior, shown: Sequence[Share]) -> tuple[Share, Share, bool] | None:
    """The headline and its strongest rival among the answers shown, both of one kind."""
    best = headline_share(found)
    if best in found.so_far:
        for group in found.so_far:
            stands = any(a.family == group.family and set(a.sets) & set(group.sets) for a in shown)
            if group != best and stands and group.probability > 0:
                return best, group, True
        # No answer of another group is shown: the likeliest of its own stands for the headline.
        own = [a for a in found.answers.of_family(best.family) if set(a.sets) & set(best.sets)]
        best = max(own, key=lambda share: share.probability, default=best)
    rival = next((a for a in shown if a != best and a.probability > 0), None)
    return None if rival is None or best.probability <= 0 else (best, rival, False)


_NAMES = {MIXED: "a mixture", VARIANT: "a variant", UNCATALOGUED: "a box not in the catalog"}
_TIMES = {2: " twice", 3: " three times"}


def short_name(share: Share) -> str:
    """Return what an answer is called in an account: the ids of its sets, or its kind."""
    if share.kind == NEW:
        return f"a new set of {share.family}"
    if share.kind != MATCHED:
        return _NAMES[share.kind]
    return " or ".join(share.sets) if len(share.sets) < 3 else f"{share.sets[0]} and its like"


def label(share: Share) -> str:
    """Return what an answer is called in data: FAMILY/SET, or its kind."""
    if share.kind == NEW:
        return f"{share.family}/{NEW}"
    return share.kind if share.kind != MATCHED else f"{share.family}/{'|'.join(share.sets)}"


def prior_reason(headline: Share, rival: Share, bits: float) -> str:
    """Return the sentence of the prior odds."""
    ahead, behind = (headline, rival) if bits >= 0 else (rival, headline)
    both = headline.kind == rival.kind == MATCHED
    by = "how common each is" if both else "how often such boxes turn up"
    return (
        f"before anything was seen {short_name(ahead)} is {2 ** abs(bits):.3g} times as likely as "
        f"{short_name(behind)}, by {by}"
    )


def reason(
    catalog: Catalog, word: Word | ReadMark | ReadFeature, headline: Share, rival: Share
) -> str:
    """Return the sentence of one thing seen: `3.driven counted 22: wide has 21, close has 22`."""
    shares = (headline, rival)
    if not isinstance(word, Word):
        return _look_reason(catalog, word, shares)
    if word.turn is not None:
        return _turn_reason(catalog, word.turn, shares)
    if not word.counts:
        return "not counted: worth nothing either way"
    return "; ".join(_count_reason(catalog, count, shares) for count in word.counts)


def _uncounted(catalog: Catalog, seen: Seen, shares: Sequence[Share]) -> Iterator[Row]:
    """A row for each wheel of the sets' families that was not counted: it is worth nothing."""
    done = {count.wheel for count in seen.counts}
    for family_id in dict.fromkeys(share.family for share in shares if share.kind == MATCHED):
        train = catalog.by_id[family_id].train
        counted = {train.names[name] for name in done if name in train.names}
        for wheel in train.wheels:
            if wheel not in counted and wheel not in done:
                done.add(wheel)
                yield Row(wheel, 0.0, f"{wheel} not counted: worth nothing either way")


def _each(
    catalog: Catalog, shares: Sequence[Share], says: Callable[[Family, RatioSet], str]
) -> str:
    """What the first set of each answer says, by the answer's name; any may be of the others."""
    told = []
    for share in shares:
        if share.kind == MATCHED:
            family = catalog.by_id[share.family]
            known = next(s for s in family.sets if s.id == share.sets[0])
            told.append(f"{short_name(share)} {says(family, known)}")
    return ", ".join(told) or "any may be"


def _how(seen: Count | ReadFeature) -> str:
    """How often it was seen, and whether it is sure."""
    times = "" if seen.times == 1 else _TIMES.get(seen.times, f" {seen.times} times")
    return f"{times}{', unsure' if seen.unsure else ''}"


def _count_reason(catalog: Catalog, count: Count, shares: Sequence[Share]) -> str:
    def has(family: Family, known: RatioSet) -> str:
        if not known.is_counted:
            return "is known by its ratios only"
        name = family.train.names.get(count.wheel)
        if name is None:
            return "has no such wheel"
        teeth = family.teeth_of(known).get(name)
        return "was never counted there" if teeth is None else f"has {teeth}"

    return f"{count.wheel} counted {count.teeth}{_how(count)}: {_each(catalog, shares, has)}"


def _look_reason(catalog: Catalog, look: ReadMark | ReadFeature, shares: Sequence[Share]) -> str:
    """The sentence of a mark or a feature: `laygear splines counted 10: wide has 10`."""
    has = _each(catalog, shares, lambda family, known: listed_text(family, known.id, look))
    if isinstance(look, ReadMark):
        return f"{look.piece} read {look.reading.upper()}: {has}"
    verb = "counted" if look.feature in COUNTED else "is" if isinstance(look.value, str) else "read"
    name = f"{feature_name(look.feature)} of {look.owner}"
    return f"{name} {verb} {value_text(look.feature, look.value)}{_how(look)}: {has}"


def _turn_reason(catalog: Catalog, turn: Turn, shares: Sequence[Share]) -> str:
    reading = reading_of(turn)

    def gives(family: Family, known: RatioSet) -> str:
        ratio = product(map(set_ratios(family, known).get, turn.gears))
        return "gives no one ratio" if ratio is None else f"gives {reading.mean(float(ratio)):.2f}"

    read = "turns in" if turn.reads_input else "turns out"
    gears = " and ".join(turn.gears)
    return f"in {gears} {reading.value:.4g} {read} read: {_each(catalog, shares, gives)}"
