"""Rows of whole boxes: the verdict alone, as the whole answer has it."""

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.evidence.reading import Verdict
from cogtally.shelf.batch import Boxes, Row


def row(words: str) -> Row:
    return Row(2, {"item": "box", "seen": words})


@pytest.mark.parametrize(
    "words",
    ["input=17/28 1=14/31 2=19/26 3=24/22", "input=17/28 3=20/21x3", "1=14/31 9=20/20", "2=55/60"],
)
def test_the_verdict_alone_is_that_of_the_whole_answer(words):
    """What a row of CSV needs says the same as the answer that a line of JSON is made of."""
    catalog = demo_catalog()
    brief = Boxes(catalog, briefly=True).answer(row(words))
    whole = Boxes(catalog).answer(row(words))
    assert not isinstance(whole, Verdict)
    assert brief == whole.verdict
