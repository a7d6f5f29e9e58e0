"""Marks and features of a set as somebody types them: `laygear:LG 3102`, `3.driver.hand=left`.

What they are of is left to `check`, how counts are typed to `from_counts`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping

from cogtally.catalog.draft import LARGEST_NUMBER, as_number
from cogtally.catalog.model import Family, FeatureValue
from cogtally.gears.errors import UserError
from cogtally.gears.looks import FEATURES, parse_feature
from cogtally.gears.printed import shown

_NUMBER = re.compile(r"[0-9]{1,15}|[0-9]{0,15}\.[0-9]{1,15}")


def written_marks(
    texts: Iterable[str], family: Family | None, trade_names: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """Return the marks of each piece out of texts such as `laygear:LG 3102`.

    `family` is the one that the set goes to, None for a new one; `trade_names` are other names of
    its pieces. Raises UserError for a text without a piece or without a mark.
    """
    own = _pieces(family)
    found: dict[str, tuple[str, ...]] = {}
    for text in texts:
        piece, colon, mark = (part.strip() for part in text.partition(":"))
        if not colon or not piece or not mark:
            raise UserError(
                "a piece, ':' and what is stamped on it were expected",
                f"--mark {shown(text)}",
                "write PIECE:TEXT: 'laygear:LG 3102'",
            )
        name = _named(piece, own, trade_names)
        found[name] = (*found.get(name, ()), mark)
    return found


def written_features(
    texts: Iterable[str], family: Family | None, trade_names: Mapping[str, str]
) -> dict[str, dict[str, FeatureValue]]:
    """Return the features of each wheel or piece out of texts such as `laygear.splines=10`.

    A feature that can be looked at has a value of its kind; any other has a number or a text.
    Raises UserError for what is no feature, or unsure, or given twice.
    """
    own = _pieces(family)
    found: dict[str, dict[str, FeatureValue]] = {}
    for text in texts:
        place = f"--feature {shown(text)}"
        left, _, value = text.partition("=")
        owner, _, feature = left.strip().rpartition(".")
        if not owner or not feature or not value.strip():
            mend = "write OF.FEATURE=VALUE: laygear.splines=10, 3.driver.hand=left"
            raise UserError("a wheel or piece, '.', feature, '=' and value expected", place, mend)
        name = owner if "." in owner else _named(owner, own, trade_names)
        given = found.setdefault(name, {})
        key, known = _value(feature, value.strip(), text, place)
        if key in given:
            raise UserError("two values of one feature were written", place)
        given[key] = known
    return found


def _value(feature: str, value: str, text: str, place: str) -> tuple[str, FeatureValue]:
    if feature.casefold() in FEATURES:
        read = parse_feature(text)
        if read.unsure or read.times != 1:
            mend = "look again, and write what is sure"
            raise UserError("a catalog has no unsure or repeated values", place, mend)
        return read.feature, read.value
    if _NUMBER.fullmatch(value) is None:
        return feature, value
    number: int | float = float(value) if "." in value else int(value)
    if as_number(number) is None:
        raise UserError(f"the number is larger than {LARGEST_NUMBER:g}", place)
    return feature, number


def _pieces(family: Family | None) -> Collection[str]:
    return () if family is None else {piece.name for piece in family.pieces}


def _named(piece: str, own: Collection[str], trade_names: Mapping[str, str]) -> str:
    """A piece as its family calls it."""
    return piece if piece in own else trade_names.get(piece.casefold(), piece)
