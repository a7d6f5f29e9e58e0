"""Stacks as parts of bytes: what comes out of them is what went in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cogtally.catalog.model import Catalog
from cogtally.catalog.search.index_file import parts_of
from cogtally.evidence.kept_stacks import Texts, _arrays, parts_of_stacks, stacks_of_parts
from cogtally.evidence.prepared import Prepared
from cogtally.evidence.stacked import Stacks, stacks_of
from cogtally.evidence.stacked_block import Block
from evidence.kept_books import book_catalog


def _named(catalog: Catalog) -> Catalog:
    """The catalog with ids of other letters than plain ones."""
    return Catalog(
        tuple(
            replace(
                family,
                id=f"ä{family.id}",
                sets=tuple(replace(known, id=f"№{known.id}") for known in family.sets),
            )
            for family in catalog.families
        )
    )


@pytest.fixture(scope="module")
def both() -> tuple[Stacks, Stacks]:
    """The stacks of a catalog, and the same out of parts."""
    catalog = _named(book_catalog(1))
    ready = Prepared(catalog)
    stacks = stacks_of(catalog, ready.rho)
    parts = parts_of(parts_of_stacks(stacks, catalog))
    return stacks, stacks_of_parts(parts, ready.rho, stacks.roll.families)


def test_arrays_come_back(both: tuple[Stacks, Stacks]) -> None:
    """Every array of every block has the same values and kind of numbers, and can be used as is."""
    whole, kept = both
    assert [stack.shape for stack in kept.stacks] == [stack.shape for stack in whole.stacks]
    assert np.array_equal(kept.over, whole.over)
    for one, other in zip(whole.stacks, kept.stacks, strict=True):
        for ready, mapped in zip(one.blocks, other.blocks, strict=True):
            for before, after in zip(_arrays(ready), _arrays(mapped), strict=True):
                assert before.dtype == after.dtype
                assert after.flags.aligned
                assert np.array_equal(before, after)


def test_families_come_back(both: tuple[Stacks, Stacks]) -> None:
    """Ids, base sets and groups of every family, and the families that do not stack, are alike."""
    whole, kept = both
    assert kept.others == whole.others
    assert kept.ids == whole.ids
    assert list(kept.roll.family_ids) == list(whole.roll.family_ids)

    def told(block: Block) -> list[tuple[object, ...]]:
        every = zip(block.ids, block.members, block.groups, block.families, strict=True)
        return [(*one, block.sets_of(place, [0])) for place, one in enumerate(every)]

    for one, other in zip(whole.stacks, kept.stacks, strict=True):
        for ready, mapped in zip(one.blocks, other.blocks, strict=True):
            assert told(mapped.block) == told(ready.block)


def test_texts_have_ends() -> None:
    """A text is found by its place, and there is none before the first or behind the last."""
    texts = Texts(lambda: "abc", [1, 1, 3])
    assert list(texts) == ["a", "", "bc"]
    for place in (-1, 3):
        with pytest.raises(IndexError):
            texts[place]
