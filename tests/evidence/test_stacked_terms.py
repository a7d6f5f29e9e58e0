"""What sets have in common as a sum of terms, beside every choice of every piece."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from cogtally.evidence.common_sets import signs_of
from cogtally.evidence.stacked_terms import (
    EITHER,
    LISTED_ONLY,
    Kinds,
    in_common,
)


@st.composite
def families(draw: st.DrawFn) -> tuple[tuple[Kinds, ...], int | None]:
    """Types of a few pieces in a few base sets, and one of the pieces as a hub or none."""
    bases = draw(st.integers(1, 4))
    rows = draw(
        st.lists(
            st.lists(st.integers(0, 3), min_size=bases, max_size=bases), min_size=1, max_size=4
        )
    )
    kinds = tuple(tuple([row.index(kind) for kind in row]) for row in rows)
    return kinds, draw(st.none() | st.integers(0, len(kinds) - 1))


@given(families())
def test_terms_add_up_to_what_is_had_in_common(
    family: tuple[tuple[Kinds, ...], int | None],
) -> None:
    """Terms count a choice of types once where what is listed is of one set, else not at all."""
    kinds, hub = family
    found = in_common(kinds, hub, 1000)
    assert found is not None
    for choice in product(*[[*sorted(set(kind)), None] for kind in kinds]):
        shared = any(
            all(type_ in (None, kind[base]) for type_, kind in zip(choice, kinds, strict=True))
            for base in range(len(kinds[0]))
        )
        counted = 0
        for base, sign, codes in zip(found.bases, found.signs, found.codes, strict=True):
            counted += sign * all(
                code != LISTED_ONLY if type_ is None else code and type_ == kind[base]
                for type_, code, kind in zip(choice, codes, kinds, strict=True)
            )
        assert counted == shared


@given(families())
def test_a_hub_is_listed_or_not_in_a_term(family: tuple[tuple[Kinds, ...], int | None]) -> None:
    """Where there is a hub, no term has it both of a type and unlisted."""
    kinds, hub = family
    found = in_common(kinds, hub, 1000)
    assert found is not None
    assert hub is None or all(codes[hub] != EITHER for codes in found.codes)


def test_sets_that_differ_in_one_piece_each_take_few_terms() -> None:
    """Of a row of sets, each but for one piece like the one before, a term a set is enough."""
    kinds = ((0, 0, 0, 0), (0, 1, 1, 1), (0, 0, 2, 2), (0, 0, 0, 3))
    found = in_common(kinds, None, 1000)
    assert found is not None
    assert len(found.bases) == 4


def test_too_many_to_tell_apart_are_refused() -> None:
    """Above the most that is allowed there are no terms."""
    assert in_common(((0, 1, 2), (0, 0, 2)), None, 2) is None


def test_signs_add_up_to_one() -> None:
    """For every set of sets that can be had in common, the signs of those inside it add up to 1."""
    signs = signs_of([[0b0111, 0b1000], [0b0011, 0b1100], [0b0001, 0b1110]], 0b1111)
    assert {0b0001, 0b0010, 0b0100, 0b1000} <= set(signs)
    for mask in signs:
        assert sum(sign for other, sign in signs.items() if other & mask == other) == 1
