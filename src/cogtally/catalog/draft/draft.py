"""Families and sets out of tables as somebody wrote them, with all that is wrong with a value.

It knows which keys there are. Reading files belongs to `toml` and `csv`; whether
values fit together belongs to `check`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from cogtally.catalog.draft.values import (
    LONGEST_PIECE_NAME,
    MOST_FINDINGS,
    MOST_SETS,
    Reader,
    as_number,
    shown,
    shown_value,
)
from cogtally.catalog.model import Family, FeatureValue, RatioSet, Teeth
from cogtally.catalog.pair_text import written_pair
from cogtally.catalog.problem import Finding
from cogtally.gears.trains import FAMILY_LAYOUTS, NO_GEAR, ROLES_OF_THREE

FAMILY_KEYS = (
    "id",
    "name",
    "aliases",
    "layout",
    "direct",
    "centre_distance_mm",
    "note",
    "pieces",
    "same",
    "paths",
)
SET_KEYS = (
    "id",
    "name",
    "aliases",
    "commonness",
    "source",
    "pairs",
    "ratios",
    "marks",
    "features",
)

_DOTTED_MEND = "put the name of a wheel in quotes"


@dataclass(frozen=True, slots=True)
class Draft:
    """A family as far as it could be made of what was written, and what was wrong with that.

    Where a value would not do, the family has none there: a wheel not counted, no note. `spoilt`:
    the keys (with the number of their set, None for the family's own) whose values are not all
    that was written, so that nothing is said to be missing there.
    """

    family: Family
    findings: tuple[Finding, ...] = ()
    spoilt: frozenset[tuple[int | None, str]] = frozenset()


def draft_family(table: Mapping[str, object], sets: object = ()) -> Draft:
    """Make a family of its table and the list of its sets' tables, as TOML gives them.

    Nothing stops at the first thing wrong: all is noted, and the rest is read.
    """
    findings: list[Finding] = []
    reader = Reader(findings)
    reader.keys(table, FAMILY_KEYS)
    direct = table.get("direct")
    family = Family(
        id=reader.identifier(table, "the family"),
        layout=_layout(reader, table),
        name=reader.text(table, "name"),
        direct=(reader.text(table, "direct") or None) if direct is not None else None,
        aliases=_aliases(reader, table),
        centre_distance_mm=reader.millimetres(table, "centre_distance_mm"),
        note=reader.text(table, "note"),
        given_pieces=_pieces(reader, table),
        same=_same(reader, table),
        paths=_paths(reader, table),
    )
    tables = _set_tables(reader, sets)
    drafts = []
    if reader.is_few(tables, "set", MOST_SETS):
        for number, raw in enumerate(tables):
            if len(findings) > MOST_FINDINGS:
                break
            drafts.append(_draft_set(Reader(findings, number), raw))
    family = replace(family, sets=_with_doubtful_pairs(drafts))
    spoilt = {(f.set_no, f.key.partition(".")[0]) for f in findings}
    spoilt.update((None, key) for key in reader.meant)
    spoilt.update((number, key) for number, d in enumerate(drafts) for key in d.meant)
    return Draft(family, tuple(findings), frozenset(spoilt))


def _layout(reader: Reader, table: Mapping[str, object]) -> str:
    if "layout" not in table:
        if "layout" in reader.meant:
            return ""
        mend = f"write one of {', '.join(FAMILY_LAYOUTS)}"
        reader.wrong("layout", "layout", "the family has no layout", mend)
        return ""
    layout = reader.text(table, "layout")
    if layout not in FAMILY_LAYOUTS and isinstance(table["layout"], str):
        from cogtally.catalog.find import did_you_mean

        mend = did_you_mean(layout, FAMILY_LAYOUTS)
        reader.wrong("layout", "layout", f"no layout is called '{shown(layout)}'", mend)
    return layout


def _aliases(reader: Reader, table: Mapping[str, object]) -> tuple[str, ...]:
    if "aliases" not in table:
        return ()
    return reader.texts(table["aliases"], "aliases", 'aliases = ["…", "…"]')


def _pieces(reader: Reader, table: Mapping[str, object]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for name, wheels in reader.table(table, "pieces").items():
        key = f"pieces.{name}"
        if isinstance(wheels, dict):
            reader.wrong_kind(key, wheels, "a list of wheels", _DOTTED_MEND)
        elif reader.name(name, key, "a piece", LONGEST_PIECE_NAME):
            found[name] = reader.texts(wheels, key, '["1.driven", "R.driven"]')
    return found


def _same(reader: Reader, table: Mapping[str, object]) -> dict[str, str]:
    found: dict[str, str] = {}
    for alias, wheel in reader.table(table, "same").items():
        key = f"same.{alias}"
        if isinstance(wheel, str):
            found[alias] = reader.short(wheel, key)
        else:
            mend = f'{_DOTTED_MEND}: "{shown(alias)}.driver" = "1.driver"'
            reader.wrong_kind(key, wheel, "a wheel", mend)
    return found


def _paths(reader: Reader, table: Mapping[str, object]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for gear, pairs in reader.table(table, "paths").items():
        if reader.name(gear, f"paths.{gear}", "a gear"):
            found[gear] = reader.texts(pairs, f"paths.{gear}", '["input", "R1", "R2"]')
    return found


def _set_tables(reader: Reader, sets: object) -> list[Mapping[str, object]]:
    """The tables of the sets; what is none is noted and left out."""
    if isinstance(sets, dict):
        reader.wrong_kind("set", sets, "a list of sets", "write [[set]], with two brackets")
        return [sets]
    if isinstance(sets, (list, tuple)) and all(isinstance(raw, dict) for raw in sets):
        return list(sets)
    reader.wrong_kind("set", sets, "a list of sets", "write [[set]] above each set")
    return [raw for raw in sets if isinstance(raw, dict)] if isinstance(sets, list) else []


@dataclass(frozen=True, slots=True)
class _SetDraft:
    """A set, and its pairs that were written in a way that does not tell their wheels."""

    known: RatioSet
    doubtful: tuple[str, ...]
    meant: frozenset[str]


def _draft_set(reader: Reader, table: Mapping[str, object]) -> _SetDraft:
    reader.keys(table, SET_KEYS)
    pairs, typed, doubtful = _pairs(reader, table)
    known = RatioSet(
        id=reader.identifier(table, "the set"),
        name=reader.text(table, "name"),
        pairs=pairs,
        ratios=_ratios(reader, table),
        commonness=reader.commonness(table),
        source=reader.text(table, "source"),
        aliases=_aliases(reader, table),
        marks=_marks(reader, table),
        features=_features(reader, table),
        typed=typed,
    )
    return _SetDraft(known, tuple(doubtful), frozenset(reader.meant))


def _pairs(
    reader: Reader, table: Mapping[str, object]
) -> tuple[dict[str, Teeth], dict[str, str], list[str]]:
    """The pairs, those written otherwise than usual as they were written, and the doubtful ones."""
    pairs: dict[str, Teeth] = {}
    typed: dict[str, str] = {}
    doubtful: list[str] = []
    for pair, value in reader.table(table, "pairs").items():
        if reader.name(pair, f"pairs.{pair}", "a pair"):
            teeth = reader.teeth(value, pair)
            # Two wheels stand in for a pair whose number of wheels cannot be told.
            pairs[pair] = (None, None) if teeth is None else teeth
            if teeth is None:
                doubtful.append(pair)
            elif isinstance(value, str) and value != written_pair(teeth):
                typed[pair] = value
    return pairs, typed, doubtful


def _ratios(reader: Reader, table: Mapping[str, object]) -> dict[str, str]:
    found: dict[str, str] = {}
    for gear, value in reader.table(table, "ratios").items():
        if gear in NO_GEAR:
            mend = "print the ratios of gears: 1, 2, R"
            reader.wrong("ratio", f"ratios.{gear}", f"{gear} is a pair, not a gear", mend)
        elif reader.name(gear, f"ratios.{gear}", "a gear"):
            text = reader.ratio(value, gear)
            if text is not None:
                found[gear] = text
    return found


def _marks(reader: Reader, table: Mapping[str, object]) -> dict[str, tuple[str, ...]]:
    return {
        piece: reader.texts(marks, f"marks.{piece}", 'a list of texts: ["LG 3102"]')
        for piece, marks in reader.table(table, "marks").items()
    }


def _features(reader: Reader, table: Mapping[str, object]) -> dict[str, Mapping[str, FeatureValue]]:
    found: dict[str, Mapping[str, FeatureValue]] = {}
    for owner, features in reader.table(table, "features").items():
        key = f"features.{owner}"
        if not isinstance(features, dict):
            mend = f"say of what: {shown(owner)} = {{ splines = 10, bore_mm = 19.05 }}"
            reader.wrong_kind(key, features, "a table of features", mend)
            continue
        if features and all(
            r in ROLES_OF_THREE and isinstance(v, dict) for r, v in features.items()
        ):
            role = next(iter(features))
            mend = f'{_DOTTED_MEND}: "{shown(owner)}.{role}" = {{ … }}'
            reader.wrong_kind(key, features, "features of a wheel or a piece", mend)
            continue
        values = {f: _feature(reader, v, f"{key}.{f}") for f, v in features.items()}
        found[owner] = {
            f: v for f, v in values.items() if v is not None and reader.is_short(f, key)
        }
    return found


def _feature(reader: Reader, value: object, key: str) -> FeatureValue | None:
    if isinstance(value, str):
        return reader.short(value, key)
    if as_number(value) is not None and isinstance(value, (int, float)):
        return value
    mend = "write a number or a text in quotes"
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        reader.wrong("wrong-kind", key, f"{shown_value(value)} was read, not a usable number", mend)
    else:
        reader.wrong_kind(key, value, "a number or a text", mend)
    return None


def _with_doubtful_pairs(drafts: list[_SetDraft]) -> tuple[RatioSet, ...]:
    """Give a pair that cannot be told the number of wheels that the other sets give it.

    So one slip of the pen is not reported again as a set of another shape.
    """
    if not any(draft.doubtful for draft in drafts):
        return tuple(draft.known for draft in drafts)
    sizes: dict[str, Counter[int]] = {}
    for draft in drafts:
        for pair, teeth in draft.known.pairs.items():
            if pair not in draft.doubtful:
                sizes.setdefault(pair, Counter())[len(teeth)] += 1
    gap = {pair: (None,) * counter.most_common(1)[0][0] for pair, counter in sizes.items()}
    return tuple(
        replace(
            draft.known,
            pairs={
                pair: gap.get(pair, teeth) if pair in draft.doubtful else teeth
                for pair, teeth in draft.known.pairs.items()
            },
        )
        for draft in drafts
    )
