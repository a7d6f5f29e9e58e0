"""Rules on printed ratios: that a set's own teeth agree, and that some teeth can give them.

The search for such teeth is left to `possible`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from cogtally.catalog.check.possible import FEWEST, MOST, Printed, are_possible, printed_gear
from cogtally.catalog.draft import Draft
from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.problem import Finding

#: So many ratios of one set are named in a sentence.
MOST_NAMED = 8


def check_ratios(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the printed ratios of a family's sets (of `draft`)."""
    for number, known in enumerate(draft.family.sets):
        if not known.ratios:
            continue
        if known.is_counted:
            yield from _counted(family, number, known)
        else:
            yield from _printed_only(family, number, known)


def _counted(family: Family, number: int, known: RatioSet) -> Iterator[Finding]:
    """Compare printed ratios with the set's own teeth; wheels not counted may have any."""
    teeth = {w: t for w, t in family.teeth_of(known).items() if t is not None}
    gears: dict[str, Printed] = {}
    for gear, text in known.ratios.items():
        key = f"ratios.{gear}"
        path = family.train.path(gear)
        if path is None:
            sentence = f"the family has no gear {gear}: the ratio is compared with nothing"
            yield Finding("ratio-unchecked", sentence, "", number, key)
            continue
        if not all(pair in known.pairs for pair in path):
            continue
        wheels = family.train.path_wheels(path)
        printed = printed_gear(text, wheels)
        ends = [w for pair in wheels for w in pair]
        if all(w in teeth for w in ends):
            ratio = _ratio(printed, teeth)
            if not printed.low <= ratio * printed.den <= printed.high:
                decimals = len(text.partition(".")[2])
                given = _near(ratio, decimals)
                sentence = f"{text} is printed, the teeth of {_through(path)} give {given}"
                mend = "count again, or take the printed ratio out"
                yield Finding("ratio-contradicts", sentence, mend, number, key)
        else:
            gears[gear] = printed
    yield from _impossible(gears, known, teeth, number)


def _printed_only(family: Family, number: int, known: RatioSet) -> Iterator[Finding]:
    gears = {
        gear: printed_gear(text, family.train.path_wheels(family.path_of(gear)))
        for gear, text in known.ratios.items()
    }
    yield from _impossible(gears, known, {}, number)


def _impossible(
    gears: Mapping[str, Printed], known: RatioSet, teeth: Mapping[str, int], number: int
) -> Iterator[Finding]:
    """Yield the gears that no teeth can give by themselves, or else together."""
    alone = [gear for gear, printed in gears.items() if not are_possible([printed], teeth)]
    wheels = f"wheels of {FEWEST} to {MOST} teeth"
    for gear in alone:
        text = known.ratios[gear]
        if gears[gear].drivers:
            sentence = f"no {wheels} give {text} for gear {gear}"
            if any(w in teeth for w in (*gears[gear].drivers, *gears[gear].drivens)):
                sentence += " beside those that are counted"
        else:
            sentence = f"gear {gear} is direct and has the ratio 1, not {text}"
        mend = "read the source again, the decimal point too"
        yield Finding("ratios-impossible", sentence, mend, number, f"ratios.{gear}")
    rest = {gear: printed for gear, printed in gears.items() if gear not in alone}
    if len(rest) > 1 and not are_possible(list(rest.values()), teeth):
        texts = [f"{known.ratios[gear]} for {gear}" for gear in list(rest)[:MOST_NAMED]]
        texts += [f"{len(rest) - MOST_NAMED} more"] if len(rest) > MOST_NAMED else []
        sentence = f"no {wheels} give {', '.join(texts[:-1])} and {texts[-1]} together"
        mend = "they share wheels; read the source again"
        yield Finding("ratios-impossible", sentence, mend, number, "ratios")


def _ratio(printed: Printed, teeth: Mapping[str, int]) -> Fraction:
    ratio = Fraction(1)
    for driver, driven in zip(printed.drivers, printed.drivens, strict=True):
        ratio *= Fraction(teeth[driven], teeth[driver])
    return ratio


def _through(path: tuple[str, ...]) -> str:
    return " and ".join(path) if path else "the direct gear"


def _near(ratio: Fraction, decimals: int) -> str:
    """A ratio with a decimal more than was printed, so that the difference can be seen."""
    return f"{float(ratio):.{min(decimals + 1, 9)}f}"
