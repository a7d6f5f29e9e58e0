"""Shares that are made as far as they are asked for, beside the same shares sorted in a tuple."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cogtally.evidence import stacked_listed
from cogtally.evidence.assembled import posterior
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    UNCATALOGUED,
    VARIANT,
    Share,
    likely,
    of_family,
    probabilities,
)
from cogtally.evidence.stacked_listed import HEAD, Falling, FamilyShares, Plain
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import parse_seen

from .test_stacked import made, stacked_only

LAST = (Share(MIXED, 0.2), Share(VARIANT, 0.1), Share(UNCATALOGUED, 0.3))
IDS = tuple(f"f{number}" for number in range(9))


def falling(values: list[float], rare: float = 0.0) -> tuple[Falling, list[Share]]:
    shares = [
        Share(MATCHED, value, IDS[number % 9], (f"s{number}",))
        for number, value in enumerate(values)
    ]
    sources = [Plain(shares[:3]), Plain(shares[3:])]
    return Falling(sources, IDS, rare, LAST), shares


@given(st.lists(st.sampled_from([0.0, 0.1, 0.25, 0.5]) | st.floats(0, 1), max_size=3 * HEAD))
def test_shares_are_those_of_a_sorted_tuple(values: list[float]) -> None:
    """However it is read, a list that is made when asked for is the sorted tuple of its shares."""
    found, shares = falling(values)
    plain = (*sorted(shares, key=lambda share: share.probability, reverse=True), *LAST)
    assert tuple(found) == plain
    assert found == plain
    assert len(found) == len(plain)
    assert [found[n] for n in range(-len(plain), len(plain))] == [*plain, *plain]
    assert (found[:3], found[2:], found[-3:]) == (plain[:3], plain[2:], plain[-3:])
    assert (found[1:-1], found[::2]) == (plain[1:-1], plain[::2])
    assert probabilities(found) == [share.probability for share in plain]
    assert likely(found, 0.25) == likely(plain, 0.25)
    assert likely(plain, 0.25) == [share for share in plain if share.probability >= 0.25]
    assert of_family(found, "f2") == of_family(plain, "f2")
    assert found.of_kind(MATCHED) == pytest.approx(sum(values))
    assert found.of_kind(VARIANT) == 0.1
    with pytest.raises(IndexError):
        found[len(plain)]


def test_the_first_shares_are_found_without_sorting_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """The greatest of many shares, and what stands behind them all, need no order of the rest."""
    found, _ = falling([1 / (n + 2) for n in range(20 * HEAD)])
    monkeypatch.setattr(Falling, "_order", property(lambda self: pytest.fail("all were sorted")))
    assert found
    assert [share.probability for share in found[:3]] == [1 / 2, 1 / 3, 1 / 4]
    assert found[-3:] == LAST
    assert likely(found, 0.2)[-1] == LAST[-1]


def test_rare_shares_are_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of very many shares those that are rare together are left out, and no more."""
    monkeypatch.setattr(stacked_listed, "ALL_LISTED", 100)
    found, _ = falling([0.5, *[1e-15] * 99, *[1e-3] * 200], rare=1.55e-14)
    assert len(found) == 300 - 15 + len(LAST)


def test_families_are_those_of_a_dictionary() -> None:
    """The shares of families read like a dictionary in the order of the catalog."""
    import numpy as np

    found = FamilyShares(IDS[:3], np.array([0.1, 0.4, 0.0]), {"f2": 0.4})
    assert dict(found) == {"f0": 0.1, "f1": 0.4, "f2": 0.4}
    assert [*found] == ["f0", "f1", "f2"]
    assert found.leading() == 1
    assert FamilyShares(IDS[:3], np.array([0.1, 0.2, 0.2]), {}).leading() == 1


def test_posteriors_of_a_stacked_catalog_can_be_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same question to the same catalog gives equal posteriors, another one does not."""
    stacked_only(monkeypatch)
    first, second = (posterior(made(5, 20), parse_seen(["1=14/31"])) for _ in range(2))
    assert weigh(made(5, 20), parse_seen(["1=14/31"])).stacked
    assert first == second
    assert first != posterior(made(5, 20), parse_seen(["1=14/30"]))
