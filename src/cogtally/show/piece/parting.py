"""How a mark or feature that parts the types of a loose piece is said, and pieces and sets named.

Which ones part them is left to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cogtally.evidence.loose_parting import MARK, Member, Parting
from cogtally.evidence.loose_views import LooseGroup
from cogtally.show.screen import plain, written_list

#: So many of each are named before the rest is a number.
SETS_NAMED, VALUES_NAMED, NAMES_NAMED = 4, 3, 2
UNITS = {"_mm": " mm", "_deg": " degrees"}


def piece_name(group: LooseGroup) -> str:
    """Return the piece as the catalog names it."""
    return plain(group.piece.name)


def sets_text(sets: Iterable[str]) -> str:
    """Return sets as one of which it is: `wide, low-first or late`."""
    return capped((plain(name) for name in sets), SETS_NAMED)


def capped(words: Iterable[str], most: int) -> str:
    """Return words as a choice, those beyond `most` as a number."""
    found = list(dict.fromkeys(words))
    if len(found) > most:
        return written_list([*found[: most - 1], f"{len(found) - most + 1} more"])
    return written_list(found, "or")


def label(group: LooseGroup, among: Sequence[LooseGroup], sets: Iterable[str] = ()) -> str:
    """Return a short name of a group by what tells it from the others it stands among.

    By its sets (or those of them that are given) among types of one piece, else by family and
    piece, and by set too where these are alike.
    """
    named = list(sets) or list(group.sets)
    pieces = [(g.family.id, g.piece.name) for g in among]
    if len(set(pieces)) == 1:
        return sets_text(named)
    own = f"{group.family.id} {piece_name(group)}"
    if len(set(pieces)) == len(pieces):
        return own
    return f"{own} of {capped((plain(name) for name in named), NAMES_NAMED)}"


def parting_text(groups: Sequence[LooseGroup], parting: Parting) -> str:
    """Return what to look at, and what each value of it says."""
    values = [
        f"{_value(parting.what, value)}: {_types(groups, members)}"
        for value, members in parting.values[:VALUES_NAMED]
    ]
    more = len(parting.values) - VALUES_NAMED
    if more > 0:
        values.append(f"{more} more")
    return f"the {_feature(parting.what)}{_where(groups, parting.place)} ({'; '.join(values)})"


def _where(groups: Sequence[LooseGroup], place: int | str | None) -> str:
    if place is None:
        return ""
    if isinstance(place, str):
        return f" of {plain(place)}"
    wheels = {g.piece.wheels[g.wheels[place - 1]] for g in groups}
    return f" of {plain(wheels.pop())}" if len(wheels) == 1 else f" at place {place}"


def _types(groups: Sequence[LooseGroup], members: Sequence[Member]) -> str:
    by_group: dict[int, list[str]] = {}
    for group, share in members:
        by_group.setdefault(group, []).extend(groups[group].shares[share].sets)
    if len({(g.family.id, g.piece.name) for g in groups}) == 1:
        return sets_text(name for sets in by_group.values() for name in sets)
    return capped((label(groups[g], groups, sets) for g, sets in by_group.items()), NAMES_NAMED)


def _feature(what: str) -> str:
    if what == MARK:
        return "mark"
    for unit in UNITS:
        what = what.removesuffix(unit)
    return plain(what.replace("_", " "))


def _value(what: str, value: object) -> str:
    unit = next((said for name, said in UNITS.items() if what.endswith(name)), "")
    return f"{value:g}{unit}" if isinstance(value, (int, float)) else plain(str(value))
