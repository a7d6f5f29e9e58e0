"""Rules on an overdrive: a sun and an annulus, with teeth between which planets can stand.

Rules that every family has to meet are left to the other rooms of the check.
"""

from __future__ import annotations

from collections.abc import Iterator

from cogtally.catalog.draft import Draft
from cogtally.catalog.gear_ratios import gear_ratios
from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.problem import Finding
from cogtally.gears.epicyclic import LEAST_BETWEEN, Epicyclic
from cogtally.gears.printed import interval, parse_ratio


def check_overdrive(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the one pair of an overdrive and with its printed ratios.

    `family` is that of the draft as far as its sets are of one shape.
    """
    if family.counted_sets and list(family.train.pairs.values()) != [2]:
        sentence = "an overdrive is one pair, a sun and the annulus round it"
        yield Finding("chain", sentence, 'write it as OD = "24/84"', 0, "pairs")
        return
    for key, given in (("paths", family.paths), ("same", family.same)):
        if given:
            yield Finding("path", f"an overdrive has no {key}", "take the table out", None, key)
    for number, known in enumerate(draft.family.sets):
        if known.ratios and not known.is_counted:
            sentence = "an overdrive is known by its teeth, not by printed ratios alone"
            mend = "'cogtally recover --layout overdrive' finds the teeth that print so"
            yield Finding("empty-set", sentence, mend, number, "ratios")
        elif known.is_counted:
            wrong = list(_teeth(known, number))
            # What wrong teeth come to is not said besides.
            yield from wrong or _ratios(family, known, number)


def _teeth(known: RatioSet, number: int) -> Iterator[Finding]:
    for pair, (sun, *_, annulus) in known.pairs.items():
        if sun is None or annulus is None:
            continue
        key = f"pairs.{pair}"
        if annulus < sun + LEAST_BETWEEN:
            sentence = f"the annulus of {annulus} teeth cannot stand round a sun of {sun}"
            turned = f"did you mean {annulus}/{sun}?" if annulus < sun else "count both again"
            yield Finding("teeth", sentence, turned, number, key)
        elif not Epicyclic(sun, annulus).possible_planets():
            sentence = f"no planets that are evenly spaced stand between {sun} and {annulus} teeth"
            yield Finding("no-planets", sentence, "count both again", number, key)


def _ratios(family: Family, known: RatioSet, number: int) -> Iterator[Finding]:
    ratios = gear_ratios(family, known)
    for gear, text in known.ratios.items():
        key = f"ratios.{gear}"
        if gear not in ratios:
            sentence = f"the family has no gear {gear}: the ratio is compared with nothing"
            yield Finding("ratio-unchecked", sentence, "", number, key)
            continue
        ratio = ratios[gear]
        printed = parse_ratio(text)
        if ratio is not None and ratio not in interval(printed):
            given = f"{float(ratio):.{printed.decimals + 1}f}"
            sentence = f"{text} is printed, the teeth of {gear} give {given}"
            mend = "count again, or take the printed ratio out"
            yield Finding("ratio-contradicts", sentence, mend, number, key)
