"""Which pieces are gone through: hubs and clusters, and families too entangled to compute."""

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Family, RatioSet
from cogtally.evidence.structure import choose_hubs, is_entangled


def test_a_star_has_its_middle_as_hub():
    """Given the laygear every speed gear stands alone."""
    hubs, clusters = choose_hubs([4, 30, 3, 3, 3], [(0, 1), (1, 2), (1, 3), (1, 4)])
    assert hubs == (1,)
    assert clusters == ((0,), (2,), (3,), (4,))


def test_pairs_apart_need_no_hub():
    """Pieces that mesh two by two are clusters of two."""
    hubs, clusters = choose_hubs([4, 4, 4, 4], [(0, 1), (2, 3)])
    assert hubs == ()
    assert clusters == ((0, 1), (2, 3))


def test_two_hubs_where_one_is_no_gain():
    """Turn tests in every gear tie input shaft, laygear and gear: both shafts become hubs."""
    hubs, _ = choose_hubs([4, 37, 10, 3, 3], [(0, 1, 2), (0, 1, 3), (0, 1, 4)])
    assert hubs == (0, 1)


def test_the_demo_is_not_entangled():
    """Every family of the demo is far from the limit."""
    assert not any(is_entangled(family) for family in demo_catalog().families)


def test_an_entangled_family():
    """Pieces that each carry wheels of every pair, each of many types, are too entangled."""
    gears = [str(number) for number in range(1, 7)]
    sets = tuple(
        RatioSet(
            f"s{i}",
            pairs={g: (12 + (i * k) % 40, 50 - (i * k) % 30) for k, g in enumerate(gears, 1)},
        )
        for i in range(40)
    )
    pieces = {
        f"piece-{n}": tuple(
            f"{gears[(n + k) % 6]}.{'driver' if k % 2 else 'driven'}" for k in (0, 1)
        )
        for n in range(6)
    }
    family = Family("knot", "two-shaft", sets=sets, given_pieces=pieces)
    assert is_entangled(family)
