"""Families and sets out of tables as somebody wrote them, with all that is wrong with a value.

It knows which keys there are. Reading files belongs to `toml` and `csv`; whether
values fit together belongs to `check`.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Collection, Mapping, Sized
from dataclasses import dataclass, replace

from cogtally.catalog.model import Family, FeatureValue, RatioSet, Teeth, written_pair
from cogtally.catalog.problem import Finding
from cogtally.gears.errors import shown
from cogtally.gears.notation import FEWEST_TEETH, LONGEST_NAME, MOST_TEETH
from cogtally.gears.trains import FAMILY_LAYOUTS, NO_GEAR, ROLES_OF_THREE

LONGEST_TEXT = 10_000
#: No honest table or list of a family or a set is longer, and no family has more sets.
MOST_ENTRIES, MOST_SETS = 200, 2_000
#: No honest gear runs through more pairs.
LONGEST_PATH = 20
#: So many unknown keys of a table are told one by one.
MOST_UNKNOWN = 20
#: Where more than this is wrong in one file, what was found is told, and no more looked for.
MOST_FINDINGS = 1_000
#: Beyond these a sum or a product over a catalog would leave the range of floating point.
LEAST_COMMONNESS, MOST_COMMONNESS = 1e-100, 1e100
#: A larger whole number is nothing that anybody counted or measured.
LARGEST_NUMBER = 10**15
LONGEST_COUNT = 6
LONGEST_PAIR = 40
LONGEST_RATIO = 24
LONGEST_PIECE_NAME = 40

_ID = re.compile(r"[a-z0-9][a-z0-9-]*")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_RATIO = re.compile(r"[0-9]*\.?[0-9]+")

_ID_MEND = "an id is written with a-z, 0-9 and -"
_COUNT_MEND = "count again, or write _ for a wheel that nobody counted"
_PAIR_MEND = "write driver/driven or driver/idler/driven"
#: These may stand around a count.
_BLANKS = " \t"


class Reader:
    """Reads values of one family or set, and notes what is wrong with them."""

    def __init__(self, findings: list[Finding], set_no: int | None = None) -> None:
        self.findings = findings
        self.set_no = set_no
        #: Keys that misspelt ones seem to mean: these are not missing as well.
        self.meant: set[str] = set()

    def wrong(self, code: str, key: str, sentence: str, mend: str = "") -> None:
        """Note something wrong with the value of `key`."""
        self.findings.append(Finding(code, sentence, mend, self.set_no, key))

    def keys(self, table: Mapping[str, object], known: Collection[str]) -> None:
        """Note every key of a table that is none of the known ones, with the nearest right one."""
        unknown = [key for key in table if key not in known]
        for key in unknown[:MOST_UNKNOWN]:
            self._unknown_key(key, known)
        if unknown[MOST_UNKNOWN:]:
            sentence = f"{len(unknown) - MOST_UNKNOWN:,} more keys are none that is known"
            self.wrong("unknown-key", unknown[MOST_UNKNOWN], sentence)

    def _unknown_key(self, key: str, known: Collection[str]) -> None:
        from cogtally.catalog.find import did_you_mean, nearest

        self.meant.update(nearest(key, known, most=1))
        self.wrong("unknown-key", key, f"there is no key '{shown(key)}'", did_you_mean(key, known))

    def text(self, table: Mapping[str, object], key: str) -> str:
        """Return the text of a key; empty where it is missing or no text."""
        value = table.get(key, "")
        if isinstance(value, str):
            return self.short(value, key)
        self.wrong_kind(key, value, "text", f'write {key} = "{shown_value(value)}"')
        return ""

    def short(self, value: str, key: str) -> str:
        """Return a text, or nothing of one that is too long."""
        return value if self.is_short(value, key) else ""

    def is_short(self, value: str, key: str) -> bool:
        """Tell whether a text is short enough to be kept; note it where not."""
        if len(value) <= LONGEST_TEXT:
            return True
        sentence = f"a text of {len(value):,} characters was read"
        self.wrong("text-too-long", key, sentence, f"at most {LONGEST_TEXT:,} are kept")
        return False

    def is_few(self, value: Sized, key: str, most: int = 0) -> bool:
        """Tell whether a table or a list is no longer than any honest one; note it where not."""
        most = most or MOST_ENTRIES
        if len(value) <= most:
            return True
        sentence = f"{len(value):,} entries were read"
        self.wrong("too-many", key, sentence, f"at most {most:,} are taken")
        return False

    def identifier(self, table: Mapping[str, object], what: str) -> str:
        """Return the `id` of a family or a set (`what`); empty where it has none that will do."""
        if "id" not in table:
            if "id" not in self.meant:
                self.wrong("missing-id", "id", f"{what} has no id", _ID_MEND)
            return ""
        found = self.text(table, "id")
        if found and not is_id(found):
            near = re.sub(r"[^a-z0-9]+", "-", found.casefold()).strip("-")
            mend = f"{_ID_MEND}, for example {shown(near)}" if near else _ID_MEND
            self.wrong("bad-id", "id", f"the id '{shown(found)}' was read", mend)
        elif not found and table["id"] == "":
            self.wrong("missing-id", "id", f"{what} has an empty id", _ID_MEND)
        return found

    def texts(self, value: object, key: str, example: str) -> tuple[str, ...]:
        """Return a list of texts; empty, and noted, where it is none."""
        if isinstance(value, list) and not self.is_few(value, key):
            return ()
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(self.short(item, key) for item in value)
        self.wrong_kind(key, value, "a list of texts", f"write {example}")
        return ()

    def table(self, table: Mapping[str, object], key: str) -> Mapping[str, object]:
        """Return the table of a key; empty where it is missing or none."""
        value = table.get(key)
        if isinstance(value, dict):
            return value if self.is_few(value, key) else {}
        if value is not None:
            self.wrong_kind(key, value, "a table", f"write {key} = {{ … }} or [{key}]")
        return {}

    def commonness(self, table: Mapping[str, object]) -> float:
        """Return the commonness, 1 where it is missing or will not do."""
        value = table.get("commonness", 1)
        number = as_number(value)
        if number is not None and LEAST_COMMONNESS <= number <= MOST_COMMONNESS:
            return number
        sentence = f"'{shown_value(value)}' was read, not a positive finite number"
        self.wrong("commonness", "commonness", sentence, "write 1 for a set as common as any other")
        return 1.0

    def millimetres(self, table: Mapping[str, object], key: str) -> float | None:
        """Return a length, None where it is missing or no positive number."""
        value = table.get(key)
        if value is None:
            return None
        number = as_number(value)
        if number is None or number <= 0:
            self.wrong_kind(key, value, "a length", f"write millimetres: {key} = 67.2")
            return None
        return number

    def name(self, text: str, key: str, what: str, longest: int = LONGEST_NAME) -> bool:
        """Tell whether a pair, gear or piece (`what`) can be called so; note it where not."""
        if is_name(text, longest):
            return True
        mend = f"{what} is called by at most {longest} letters, digits and -"
        self.wrong("bad-name", key, f"{what} called '{shown(text)}' was read", mend)
        return False

    def teeth(self, value: object, pair: str) -> Teeth | None:
        """Return the teeth of a pair, a count that will not do as a gap; None where it is none."""
        key = f"pairs.{pair}"
        if not isinstance(value, str):
            self.wrong_kind(key, value, "a pair", f'{_PAIR_MEND}, for example {pair} = "14/31"')
            return None
        counts = [count.strip(_BLANKS) for count in value.split("/")]
        if not 2 <= len(counts) <= 3:
            number = f"{len(counts)} wheels" if len(counts) > 1 else "one wheel"
            sentence = f"'{shown(value)}' was read: {number}, where a pair has two or three"
            self.wrong("chain", key, sentence, _PAIR_MEND)
            return None
        if len(value) > LONGEST_PAIR:
            sentence = f"a pair of {len(value):,} characters was read"
            self.wrong("chain", key, sentence, _PAIR_MEND)
            return None
        return tuple(self._count(text, value, key) for text in counts)

    def _count(self, text: str, whole: str, key: str) -> int | None:
        if text == "_":
            return None
        if text.isascii() and text.isdigit() and len(text) <= LONGEST_COUNT:
            count = int(text)
            if FEWEST_TEETH <= count <= MOST_TEETH:
                return count
        what = f"'{shown(text)}'" if text else "nothing"
        wanted = f"a whole number from {FEWEST_TEETH} to {MOST_TEETH}"
        sentence = f"{what} was read in '{shown(whole)}', not {wanted}"
        self.wrong("teeth", key, sentence, _COUNT_MEND)
        return None

    def ratio(self, value: object, gear: str) -> str | None:
        """Return a printed ratio as its text; None, and noted, where it is no positive decimal."""
        key = f"ratios.{gear}"
        if as_number(value) is not None:
            sentence = f"the number {shown_value(value)} was read, not a text"
            mend = f'write {gear} = "{shown_value(value)}" with every decimal that was printed'
            self.wrong("ratio", key, sentence, mend)
            return None
        if (
            isinstance(value, str)
            and len(value) <= LONGEST_RATIO
            and _RATIO.fullmatch(value) is not None
            and value.strip("0.") != ""
        ):
            return value
        sentence = f"'{shown_value(value)}' was read, not a positive decimal"
        self.wrong("ratio", key, sentence, "write turns in for one turn out as printed: 3.65")
        return None

    def wrong_kind(self, key: str, value: object, wanted: str, mend: str) -> None:
        """Note a value that is of another kind than its key wants."""
        sentence = f"{_kind_of(value)} was read, not {wanted}"
        self.wrong("wrong-kind", key, sentence, mend)


def is_id(text: str) -> bool:
    """Tell whether a family or a set can have this id."""
    return _ID.fullmatch(text) is not None


def is_name(text: str, longest: int = LONGEST_NAME) -> bool:
    """Tell whether a pair, a gear or a piece can be called so."""
    return len(text) <= longest and _NAME.fullmatch(text) is not None


def as_number(value: object) -> float | None:
    """Return a finite number that is not absurdly large, as a float; None for all else."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    if isinstance(value, int):
        return float(value) if abs(value) <= LARGEST_NUMBER else None
    return value if math.isfinite(value) else None


def shown_value(value: object) -> str:
    """Return any value as an error shows it."""
    if isinstance(value, (dict, list)):
        return "…"
    if isinstance(value, int) and abs(value) > LARGEST_NUMBER:
        return "an enormous number"
    return shown(str(value).lower() if isinstance(value, bool) else str(value))


def _kind_of(value: object) -> str:
    if isinstance(value, (list, dict)):
        return "a list" if isinstance(value, list) else "a table"
    if isinstance(value, (str, bool)):
        return f"{'the text ' if isinstance(value, str) else ''}'{shown_value(value)}'"
    what = "number" if isinstance(value, (int, float)) else "date or time"
    return f"the {what} {shown_value(value)}"


FAMILY_KEYS = (
    *("id", "name", "aliases", "layout", "direct", "centre_distance_mm", "note"),
    *("pieces", "same", "paths"),
)
SET_KEYS = ("id", "name", "aliases", "commonness", "source", "pairs", "ratios", "marks", "features")

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
    kinds = {(o, f) for d in drafts for o, has in d.known.features.items() for f in has}
    if not reader.is_few(kinds, "features"):
        drafts = [replace(d, known=replace(d.known, features={})) for d in drafts]
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
            path = reader.texts(pairs, f"paths.{gear}", '["input", "R1", "R2"]')
            found[gear] = path if reader.is_few(path, f"paths.{gear}", LONGEST_PATH) else ()
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
        marks={
            piece: reader.texts(marks, f"marks.{piece}", 'a list of texts: ["LG 3102"]')
            for piece, marks in reader.table(table, "marks").items()
        },
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
