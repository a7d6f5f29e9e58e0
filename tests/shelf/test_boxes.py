"""Rows of whole boxes: the verdict alone, as the whole answer has it."""

from __future__ import annotations

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.prepared import prepare
from cogtally.evidence.reading import identify
from cogtally.evidence.weighed import ENOUGH
from cogtally.gears.notation import parse_seen
from cogtally.shelf.batch import Boxes, BoxFound, Row


def row(words: str) -> Row:
    return Row(2, {"item": "box", "seen": words})


@pytest.mark.parametrize(
    "words",
    ["input=17/28 1=14/31 2=19/26 3=24/22", "input=17/28 3=20/21x3", "1=14/31 9=20/20", "2=55/60"],
)
def test_the_verdict_alone_is_that_of_the_whole_answer(words: str) -> None:
    """What a row of CSV needs says the same as the answer that a line of JSON is made of."""
    catalog = demo_catalog()
    brief = Boxes(catalog, briefly=True).answer(row(words))
    whole = Boxes(catalog).answer(row(words))
    assert isinstance(brief, BoxFound)
    assert not isinstance(whole, BoxFound)
    assert brief.verdict == whole.verdict


def test_many_rows_of_many_families_are_answered_from_arrays() -> None:
    """A catalog of many families is stacked for its rows, and answers stay what they are."""
    families = []
    for number in range(ENOUGH):
        pairs = {"1": (13 + number % 7, 31 + number % 5), "2": (18 + number % 11, 26)}
        families.append(Family(f"f{number}", "two-shaft", sets=(RatioSet("s", pairs=pairs),)))
    catalog = Catalog(tuple(families))
    boxes = Boxes(catalog, briefly=True)
    words = [f"1={13 + n % 7}/{31 + n % 5} 2={18 + n % 11}/26" for n in range(8)]
    found = [boxes.answer(row(each)).verdict for each in words]
    assert prepare(catalog).stacks is not None
    for each, verdict in zip(words, found, strict=True):
        alone = identify(Catalog(tuple(families)), parse_seen(each.split())).verdict
        assert (verdict.kind, verdict.family, verdict.sets) == (
            alone.kind,
            alone.family,
            alone.sets,
        )
        assert verdict.probability == pytest.approx(alone.probability, abs=1e-12)
        assert verdict.whole_box == pytest.approx(alone.whole_box, abs=1e-12)
