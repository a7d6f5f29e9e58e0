"""Advice from families put in arrays after they were weighed one by one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cogtally.catalog.model import Catalog
from cogtally.evidence import advice
from cogtally.evidence.advice import advise
from cogtally.evidence.in_arrays import in_arrays
from cogtally.evidence.weighed import Weighed, weigh
from cogtally.gears.notation import parse_seen

from .test_stacked import WORDS, made
from .test_stacked_near import beside


def total(weighed: Weighed) -> float:
    """What all parts come to, with that of no family."""
    return sum(weighed.hands())


@pytest.mark.parametrize("words", [(), ("2=21/_",), WORDS[4:9], ("1@4:1.1", "R@4:1.6")])
@pytest.mark.parametrize("family", [None, "f2", "both"])
def test_the_same_question_in_arrays(words: tuple[str, ...], family: str | None) -> None:
    """Nothing is lost or told twice, whichever families are asked about."""
    weighed = weigh(beside(made(10, 8)), parse_seen(list(words)), family)
    found = in_arrays(weighed)
    assert found.stacked
    assert len(found.worked) < len(weighed.worked)
    assert total(found) == pytest.approx(total(weighed), abs=1e-12)
    assert found.hands() == pytest.approx(weighed.hands(), abs=1e-12)


@pytest.mark.parametrize("words", [(), ("2=21/_",), WORDS[:2], ("1@4:1.1", "2=21/_")])
@pytest.mark.parametrize("family", [None, "f2"])
def test_advice_is_that_of_the_plain_path(
    words: tuple[str, ...], family: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wheels and gears are worth the same, one by one or in arrays."""
    catalog, seen = beside(made(10, 8)), parse_seen(list(words))
    mine = advise(catalog, seen, family)
    monkeypatch.setattr("cogtally.evidence.in_arrays.in_arrays", lambda weighed: weighed)
    plain = advise(replace(catalog), seen, family)
    assert {w.wheel: w.bits for w in mine.wheels} == pytest.approx(
        {w.wheel: w.bits for w in plain.wheels}, abs=1e-6
    )
    assert {w.gear: w.bits for w in mine.turns} == pytest.approx(
        {w.gear: w.bits for w in plain.turns}, abs=2e-4
    )


def test_what_cannot_be_in_arrays_stays_as_it_is() -> None:
    """A catalog of which nothing stacks goes the plain way."""
    catalog = Catalog(beside(made(10, 1)).families[:1])
    weighed = weigh(catalog, parse_seen(["2=21/24"]))
    assert not in_arrays(weighed).stacked
    assert advice.advise(catalog, parse_seen(["2=21/24"])).best is not None
