"""What is different between two states of a family or a set, key by key, as texts.

Where the two states come from is left to `imports` and to the log of the book.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cogtally.catalog.book.reading import (
    FAMILIES,
    FAMILY_COLUMNS,
    SET_COLUMNS,
    SETS,
    family_of,
    set_of,
)
from cogtally.catalog.model import Family, RatioSet, family_table, set_table, written_number

if TYPE_CHECKING:
    from cogtally.store import Change

NEW, SAME, CHANGED, GONE = "new", "the same", "changed", "gone"


@dataclass(frozen=True, slots=True)
class Key:
    """One key that differs, as it was and as it is: None where it was or is not there."""

    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Difference:
    """How one family (`set` is empty) or set came to be: `status`, and the keys that differ."""

    family: str
    set: str
    status: str
    keys: tuple[Key, ...] = ()

    @property
    def subject(self) -> str:
        """The family, or family and set: `alder-4/wide`."""
        return f"{self.family}/{self.set}" if self.set else self.family


def compare_families(before: Family | None, after: Family | None) -> Difference:
    """Return how a family's own keys differ; its sets are left aside. One of both is there."""
    there = after if after is not None else before
    assert there is not None
    tables = [None if one is None else family_table(one) for one in (before, after)]
    return _difference(there.id, "", *tables)


def compare_sets(family_id: str, before: RatioSet | None, after: RatioSet | None) -> Difference:
    """Return how two states of a set differ. One of both is there."""
    there = after if after is not None else before
    assert there is not None
    tables = [None if one is None else set_table(one) for one in (before, after)]
    return _difference(family_id, there.id, *tables)


def differences_of(changes: Iterable[Change]) -> tuple[Difference, ...]:
    """Return what the rows of a change of the book come to; rows of other rooms are left out."""
    found: list[Difference] = []
    for change in changes:
        if change.table == FAMILIES:
            found.append(compare_families(_family(change.before), _family(change.after)))
        elif change.table == SETS:
            family_id = (change.after or change.before or {})["family"]
            found.append(compare_sets(family_id, _set(change.before), _set(change.after)))
    return tuple(found)


def _family(row: Mapping[str, Any] | None) -> Family | None:
    return None if row is None else family_of([row.get(c) for c in FAMILY_COLUMNS], ())


def _set(row: Mapping[str, Any] | None) -> RatioSet | None:
    return None if row is None else set_of([row.get(c) for c in SET_COLUMNS])


def _difference(
    family_id: str, set_id: str, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> Difference:
    old, new = _keys(before or {}), _keys(after or {})
    keys = tuple(
        Key(key, old.get(key), new.get(key))
        for key in dict.fromkeys([*new, *old])
        if old.get(key) != new.get(key)
    )
    status = NEW if before is None else GONE if after is None else CHANGED if keys else SAME
    return Difference(family_id, set_id, status, keys)


def _keys(table: Mapping[str, Any]) -> dict[str, str]:
    """Return all of a table but its id as texts, by dotted keys; what is empty is left out."""
    found = {key: text for key, value in table.items() for key, text in _texts(key, value)}
    return {key: text for key, text in found.items() if text and key != "id"}


def _texts(key: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _texts(f"{key}.{name}", inner)
    elif isinstance(value, tuple):
        yield key, ", ".join(value)
    elif value is not None:
        is_number = key in ("commonness", "centre_distance_mm")
        yield key, written_number(value) if is_number else str(value)
