"""The sentence of each row of an account, in the words of the trade.

The bits are worked out in `account`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.likelihood import reading_of
from cogtally.evidence.posterior import MATCHED, MIXED, UNCATALOGUED, VARIANT, Share
from cogtally.gears.looks import COUNTED, feature_name, value_text
from cogtally.gears.notation import Count, Seen, Turn, Word
from cogtally.gears.words import ReadFeature, ReadMark

_NAMES = {MIXED: "a mixture", VARIANT: "a variant", UNCATALOGUED: "a box not in the catalog"}
_TIMES = {2: " twice", 3: " three times"}


def short_name(share: Share) -> str:
    """Return what an answer is called in an account: the ids of its sets, or its kind."""
    if share.kind != MATCHED:
        return _NAMES[share.kind]
    return " or ".join(share.sets) if len(share.sets) < 3 else f"{share.sets[0]} and its like"


def label(share: Share) -> str:
    """Return what an answer is called in data: FAMILY/SET, or its kind."""
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


def uncounted_reasons(
    catalog: Catalog, seen: Seen, shares: Sequence[Share]
) -> Iterator[tuple[str, str]]:
    """Return for each wheel of the sets' families, if not counted, that it is worth nothing."""
    done = {count.wheel for count in seen.counts}
    for family_id in dict.fromkeys(share.family for share in shares if share.kind == MATCHED):
        train = catalog.by_id[family_id].train
        counted = {train.names[name] for name in done if name in train.names}
        for wheel in train.wheels:
            if wheel not in counted and wheel not in done:
                done.add(wheel)
                yield wheel, f"{wheel} not counted: worth nothing either way"


def _sets(catalog: Catalog, share: Share) -> tuple[Family, RatioSet] | None:
    if share.kind != MATCHED:
        return None
    family = catalog.by_id[share.family]
    return family, next(s for s in family.sets if s.id == share.sets[0])


def _count_reason(catalog: Catalog, count: Count, shares: Sequence[Share]) -> str:
    unsure = ", unsure" if count.unsure else ""
    times = "" if count.times == 1 else _TIMES.get(count.times, f" {count.times} times")
    has = [f"{short_name(s)} {_has(catalog, count.wheel, s)}" for s in shares if s.kind == MATCHED]
    return f"{count.wheel} counted {count.teeth}{times}{unsure}: {', '.join(has) or 'any may be'}"


def _has(catalog: Catalog, wheel: str, share: Share) -> str:
    found = _sets(catalog, share)
    if found is None:
        return ""
    family, known = found
    if not known.is_counted:
        return "is known by its ratios only"
    name = family.train.names.get(wheel)
    if name is None:
        return "has no such wheel"
    teeth = family.teeth_of(known).get(name)
    return "was never counted there" if teeth is None else f"has {teeth}"


def _look_reason(catalog: Catalog, look: ReadMark | ReadFeature, shares: Sequence[Share]) -> str:
    """The sentence of a mark or a feature: `laygear splines counted 10: wide has 10`."""
    from cogtally.evidence.look_views import listed_text

    has = [
        f"{short_name(share)} {listed_text(catalog.by_id[share.family], share.sets[0], look)}"
        for share in shares
        if share.kind == MATCHED
    ]
    if isinstance(look, ReadMark):
        return f"{look.piece} read {look.reading.upper()}: {', '.join(has) or 'any may be'}"
    times = "" if look.times == 1 else _TIMES.get(look.times, f" {look.times} times")
    verb = "counted" if look.feature in COUNTED else "is" if isinstance(look.value, str) else "read"
    name = f"{feature_name(look.feature)} of {look.owner}"
    seen = f"{value_text(look.feature, look.value)}{times}{', unsure' if look.unsure else ''}"
    return f"{name} {verb} {seen}: {', '.join(has) or 'any may be'}"


def _turn_reason(catalog: Catalog, turn: Turn, shares: Sequence[Share]) -> str:
    reading = reading_of(turn)
    gives = []
    for share in shares:
        if share.kind != MATCHED:
            continue
        ratio = _ratio(catalog, turn, share)
        expected = "gives no one ratio" if ratio is None else f"gives {reading.mean(ratio):.2f}"
        gives.append(f"{short_name(share)} {expected}")
    read = "turns in" if turn.reads_input else "turns out"
    gears = " and ".join(turn.gears)
    return f"in {gears} {reading.value:.4g} {read} read: {', '.join(gives) or 'any may be'}"


def _ratio(catalog: Catalog, turn: Turn, share: Share) -> float | None:
    found = _sets(catalog, share)
    if found is None:
        return None
    family, known = found
    ratio = Fraction(1)
    for gear in turn.gears:
        if not known.is_counted:
            if gear == family.direct:
                continue
            if gear not in known.ratios:
                return None
            ratio *= Fraction(known.ratios[gear])
            continue
        path = family.train.path(gear)
        if path is None:
            return None
        teeth = family.teeth_of(known)
        for driver, driven in family.train.path_wheels(path):
            a, b = teeth.get(driver), teeth.get(driven)
            if a is None or b is None:
                return None
            ratio *= Fraction(b, a)
    return float(ratio)
