"""What is different between two states of a family or a set, key by key, as texts.

Where the two states come from is left to `imports` and to the log of the book.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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
from cogtally.catalog.model import Family, RatioSet, written_number, written_pair

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
    return _difference(there.id, "", _family_keys(before), _family_keys(after))


def compare_sets(family_id: str, before: RatioSet | None, after: RatioSet | None) -> Difference:
    """Return how two states of a set differ. One of both is there."""
    there = after if after is not None else before
    assert there is not None
    return _difference(family_id, there.id, _set_keys(before), _set_keys(after))


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
    family_id: str, set_id: str, before: dict[str, str] | None, after: dict[str, str] | None
) -> Difference:
    old, new = before or {}, after or {}
    keys = tuple(
        Key(key, old.get(key), new.get(key))
        for key in dict.fromkeys([*new, *old])
        if old.get(key) != new.get(key)
    )
    status = NEW if before is None else GONE if after is None else CHANGED if keys else SAME
    return Difference(family_id, set_id, status, keys)


def _family_keys(family: Family | None) -> dict[str, str] | None:
    if family is None:
        return None
    distance = family.centre_distance_mm
    found = {
        "name": family.name,
        "aliases": ", ".join(family.aliases),
        "layout": family.layout,
        "direct": family.direct or "",
        "centre_distance_mm": "" if distance is None else written_number(distance),
        "note": family.note,
        **{f"pieces.{piece}": ", ".join(wheels) for piece, wheels in family.given_pieces.items()},
        **{f"same.{alias}": wheel for alias, wheel in family.same.items()},
        **{f"paths.{gear}": ", ".join(pairs) for gear, pairs in family.paths.items()},
    }
    return {key: text for key, text in found.items() if text}


def _set_keys(known: RatioSet | None) -> dict[str, str] | None:
    if known is None:
        return None
    found = {
        "name": known.name,
        "aliases": ", ".join(known.aliases),
        "commonness": written_number(known.commonness),
        "source": known.source,
        **{f"pairs.{pair}": written_pair(teeth) for pair, teeth in known.pairs.items()},
        **{f"ratios.{gear}": text for gear, text in known.ratios.items()},
        **{f"marks.{piece}": ", ".join(marks) for piece, marks in known.marks.items()},
        **{
            f"features.{owner}.{feature}": value if isinstance(value, str) else str(value)
            for owner, features in known.features.items()
            for feature, value in features.items()
        },
    }
    return {key: text for key, text in found.items() if text}
