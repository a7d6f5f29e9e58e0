"""What an item of the stock is called, by the catalog of the book that it stands in.

The probabilities are left to the evidence, keeping the name to `stock`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.reading import NARROWED, UNDECIDED
from cogtally.gears.errors import UserError
from cogtally.shelf.stock.items import PAIR, PIECE, Named, Share, Thing

if TYPE_CHECKING:
    from cogtally.evidence.loose_views import LooseGroup
    from cogtally.evidence.reading import Answer
    from cogtally.gears.notation import Seen

#: What an item may be is kept from here on, and at most so many.
LEAST_KEPT, MOST_KEPT = 0.001, 20
#: So many sets are named; of more their number is said.
SETS_NAMED = 3

NOT_LISTED, UNSETTLED = "not in the catalog", "not settled; likeliest"


@dataclass(frozen=True, slots=True)
class Naming:
    """A catalog to name items by: its `digest`, and the last change of it in the book's log."""

    catalog: Catalog
    digest: str
    entry: int
    at: str
    _known: dict[Thing, Named] = field(default_factory=dict)

    def name(self, thing: Thing) -> Named:
        """Return what a thing is called; things alike are named once."""
        found = self._known.get(thing)
        if found is None:
            found = self._known[thing] = name_thing(self, thing)
        return found


def naming_of(path: Path) -> Naming:
    """Return the naming by the catalog of the book at `path`; raise UserError if that is none."""
    from cogtally.catalog.book.reading import ROOM, read_book
    from cogtally.shelf.session.record import digest_of
    from cogtally.store.log import entries
    from cogtally.store.writing import now

    # Asked before the catalog is read: a change in between is then told of twice, not missed.
    last = entries(path, ROOM, 1)
    catalog = read_book(path)
    return Naming(catalog, digest_of(catalog), last[0].id if last else 0, now())


def name_thing(naming: Naming, thing: Thing) -> Named:
    """Return what a thing is called by a catalog, with the most probable of what it may be."""
    if thing.only_family and thing.only_family not in naming.catalog.by_id:
        return _named(naming, f"{NOT_LISTED}, nor is {thing.only_family}", UNCATALOGUED, 1.0)
    return _piece(naming, thing) if thing.kind == PIECE else _box(naming, thing)


def thing_of_catalog(catalog: Catalog, thing: Thing) -> Thing:
    """Return a thing with its role and family as the catalog calls them.

    Raises UserError, with the nearest right ones, for those that the catalog does not have, and
    for a mark or a feature of what it does not have.
    """
    from cogtally.catalog.find import find_family
    from cogtally.evidence.looked import resolved, resolved_piece
    from cogtally.evidence.loose_views import find_role

    if thing.kind == PIECE:
        resolved_piece(catalog, thing.piece)
    else:
        resolved(catalog, thing.box)

    role = find_role(catalog, thing.role) if thing.role else ""
    only = find_family(catalog, thing.only_family).id if thing.only_family else ""
    return replace(thing, role=role, only_family=only)


def _piece(naming: Naming, thing: Thing) -> Named:
    from cogtally.evidence.loose_views import TYPE, identify_piece

    answer = identify_piece(naming.catalog, thing.piece, thing.role or None)
    verdict = answer.verdict
    shares = [
        Share(s.family, s.sets, s.probability, s.piece, s.kind.teeth)
        for s in answer.posterior.answers
    ]
    lead = answer.groups[0] if answer.groups else None
    outside = answer.posterior.uncatalogued
    unlisted = verdict.kind in (UNCATALOGUED, UNDECIDED)
    if lead is None or (unlisted and outside > lead.probability):
        doubt = "" if verdict.kind == UNCATALOGUED else f"{UNSETTLED} "
        name = f"{doubt}{thing.role or 'piece'} {thing.text}, {NOT_LISTED}"
        away = min((_away(group) for group in answer.groups), default=None)
        return _named(naming, name, verdict.kind, outside, shares, away)
    name = _group_name(lead)
    if verdict.kind == UNDECIDED:
        name = f"{UNSETTLED} {name}"
    elif verdict.kind != TYPE:
        name = f"{lead.family.title} {lead.piece.name}, likeliest {_of_group(lead)}"
    named = _named(naming, name, verdict.kind, verdict.probability, shares, _away(lead))
    return _led(named, lead)


def _led(named: Named, lead: LooseGroup) -> Named:
    return replace(
        named, family=lead.family.id, piece=lead.piece.name, teeth=lead.teeth, sets=lead.sets
    )


def _group_name(group: LooseGroup) -> str:
    return f"{group.family.title} {group.piece.name} {_of_group(group)}"


def _of_group(group: LooseGroup) -> str:
    teeth = "-".join("_" if t is None else str(t) for t in group.teeth)
    return f"{teeth}, {_sets_text(group.family, group.sets)}"


def _away(group: LooseGroup) -> int:
    return sum(abs(off.counted - off.listed) for off in group.off)


def _box(naming: Naming, thing: Thing) -> Named:
    from cogtally.evidence.reading import identify

    answer = identify(
        naming.catalog, _looked(naming.catalog, thing), family=thing.only_family or None
    )
    verdict, found = answer.verdict, answer.posterior
    groups = found.so_far or tuple(a for a in found.answers if a.kind == MATCHED)
    shares = [Share(g.family, g.sets, g.probability) for g in groups]
    name = _box_name(answer)
    what = f"pair {thing.text}" if thing.kind == PAIR else "box"
    name = f"{what} of {name}" if name else f"{what}, {NOT_LISTED}"
    if verdict.kind == UNDECIDED:
        name = f"{UNSETTLED} {name}"
    named = _named(naming, name, verdict.kind, verdict.probability, shares, _box_away(answer))
    return replace(named, family=verdict.family, sets=verdict.sets)


def _looked(catalog: Catalog, thing: Thing) -> Seen:
    """What was seen of a box; without marks and features of what the catalog has no more."""
    from cogtally.evidence.looked import resolved

    try:
        return resolved(catalog, thing.box)
    except UserError:
        return replace(thing.box, marks=(), features=())


def _box_name(answer: Answer) -> str:
    """What a box leans to; empty where that is nothing in the catalog."""
    verdict = answer.verdict
    family = answer.catalog.by_id.get(verdict.family)
    if verdict.leaning == UNCATALOGUED or family is None:
        return ""
    sets = _sets_text(family, verdict.sets)
    name = f"{family.title}, {sets}" if sets else family.title
    strange = [f.piece for f in verdict.foreign]
    if verdict.leaning == NEW:
        return f"{family.title}, a set not listed"
    if verdict.leaning == MIXED:
        with_them = f", with another's {' and '.join(strange)}" if strange else ""
        return f"a mixture, mostly {name}{with_them}"
    return f"a variant of {name}" if verdict.leaning == VARIANT else name


def _box_away(answer: Answer) -> int | None:
    """How far the counts are off the set that was named, or off the nearest where none was."""
    from cogtally.evidence.counted import counted_wheels
    from cogtally.evidence.reading import measure, turned_ratios

    verdict = answer.verdict
    if not answer.seen.counts:
        return None
    family = answer.catalog.by_id.get(verdict.family)
    if family is None or verdict.leaning not in (MATCHED, NARROWED):
        return answer.nearest[0].tooth_differences if answer.nearest else None
    known = next((s for s in family.sets if s.id in verdict.sets), None)
    if known is None or not known.is_counted:
        return None
    counted = counted_wheels(answer.seen, family)
    return measure(family, known, counted, turned_ratios(answer.seen)).tooth_differences


def _named(
    naming: Naming,
    name: str,
    verdict: str,
    probability: float,
    shares: Iterable[Share] = (),
    away: int | None = None,
) -> Named:
    kept = sorted((s for s in shares if s.probability >= LEAST_KEPT), key=lambda s: -s.probability)
    return Named(
        name=name,
        verdict=verdict,
        probability=probability,
        away=away,
        shares=tuple(kept[:MOST_KEPT]),
        catalog=naming.digest,
        entry=naming.entry,
        at=naming.at,
    )


def _sets_text(family: Family, sets: Sequence[str]) -> str:
    """Return sets in words: `Wide ratio`, `set wide or late`, `one of 7 sets`."""
    if len(sets) > SETS_NAMED:
        return f"one of {len(sets)} sets"
    if len(sets) > 1:
        return f"set {', '.join(sets[:-1])} or {sets[-1]}"
    return "".join(known.title for known in family.sets if known.id in sets)
