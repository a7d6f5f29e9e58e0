"""What an item of the stock is called by the catalog of its book: at first, again, on its label.

Named again after the catalog changed, it is told which are called otherwise and what did it. The
probabilities are left to the evidence, keeping the name to `book`, all words for it to `show`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.catalog.find import find_family
from cogtally.catalog.looked import find_role, resolved, resolved_piece
from cogtally.catalog.model import Catalog, Family, gear_ratios
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.reading import RECOUNT, UNDECIDED, identify, measure
from cogtally.gears.errors import UserError
from cogtally.gears.trains import pair_of, pair_ratio
from cogtally.shelf.stock.items import BOX, PAIR, PIECE, Item, Named, Share, Thing

if TYPE_CHECKING:
    from cogtally.catalog.book import Difference
    from cogtally.evidence.loose import LooseAnswer, LooseGroup
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
        """Return what a thing is called, with the most probable of what it may be.

        Things alike are named once.
        """
        found = self._known.get(thing)
        if found is None:
            if thing.only_family and thing.only_family not in self.catalog.by_id:
                name = f"{NOT_LISTED}, nor is {thing.only_family}"
                found = _named(self, name, UNCATALOGUED, 1.0)
            else:
                found = _piece(self, thing) if thing.kind == PIECE else _box(self, thing)
            self._known[thing] = found
        return found


def naming_of(path: Path) -> Naming:
    """Return the naming by the catalog of the book at `path`; raise UserError if that is none."""
    from cogtally.catalog.book import FAMILIES, SETS, read_book
    from cogtally.shelf.session import digest_of
    from cogtally.store import last_change, now

    # Asked before the catalog is read: a change in between is then told of twice, not missed.
    last = last_change(path, (FAMILIES, SETS))
    catalog = read_book(path)
    return Naming(catalog, digest_of(catalog), last, now())


def thing_of_catalog(catalog: Catalog, thing: Thing) -> Thing:
    """Return a thing with its role and family as the catalog calls them.

    Raises UserError, with the nearest right ones, for those that the catalog does not have, and
    for a mark or a feature of what it does not have.
    """
    if thing.kind == PIECE:
        resolved_piece(catalog, thing.piece)
    else:
        resolved(catalog, thing.box)

    role = find_role(catalog, thing.role) if thing.role else ""
    only = find_family(catalog, thing.only_family).id if thing.only_family else ""
    return replace(thing, role=role, only_family=only)


def _piece(naming: Naming, thing: Thing) -> Named:
    from cogtally.evidence.loose import RECOUNT, TYPE, UNLISTED

    answer = _loose(naming.catalog, thing)
    verdict = answer.verdict
    shares = [
        Share(s.family, s.sets, s.probability, s.piece, s.kind.teeth if s.kind else ())
        for s in answer.posterior.answers()
    ]
    lead = answer.groups[0] if answer.groups else None
    outside = answer.posterior.uncatalogued
    unlisted = verdict.kind in (UNCATALOGUED, UNDECIDED)
    if lead is None or (unlisted and outside > lead.probability):
        doubt = "" if verdict.kind == UNCATALOGUED else f"{UNSETTLED} "
        name = f"{doubt}{thing.role or 'piece'} {thing.text}, {NOT_LISTED}"
        away = min((group.away for group in answer.groups if group.is_listed), default=None)
        return _named(naming, name, verdict.kind, outside, shares, away)
    name = f"{lead.family.title} {lead.piece.name} {_of_group(lead)}"
    if verdict.kind == UNDECIDED:
        name = f"{UNSETTLED} {name}"
    elif verdict.kind not in (TYPE, RECOUNT, UNLISTED):
        name = f"{lead.family.title} {lead.piece.name}, likeliest {_of_group(lead)}"
    named = _named(naming, name, verdict.kind, verdict.probability, shares, lead.away)
    teeth = lead.teeth if lead.is_listed else ()
    return replace(named, family=lead.family.id, piece=lead.piece.name, teeth=teeth, sets=lead.sets)


def _loose(catalog: Catalog, thing: Thing) -> LooseAnswer:
    from cogtally.evidence.loose import identify_piece

    return identify_piece(
        catalog, thing.piece, thing.role or None, family=thing.only_family or None
    )


def _of_group(group: LooseGroup) -> str:
    teeth = "-".join("_" if t is None else str(t) for t in group.teeth)
    near = "" if group.is_listed else "of no listed type, nearest "
    return f"{near}{teeth}, {_sets_text(group.family, group.near_sets)}"


def _box(naming: Naming, thing: Thing) -> Named:
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
    if verdict.leaning == RECOUNT:
        return f"{name}, to be counted again"
    return f"a variant of {name}" if verdict.leaning == VARIANT else name


def _box_away(answer: Answer) -> int | None:
    """How far the counts are off the set that was named, or off the nearest where none was."""
    verdict = answer.verdict
    if not answer.seen.counts:
        return None
    family = answer.catalog.by_id.get(verdict.family)
    if family is None or not verdict.names_sets:
        return answer.nearest[0].tooth_differences if answer.nearest else None
    known = next((s for s in family.sets if s.id in verdict.sets), None)
    return None if known is None else measure(family, known, answer.seen).tooth_differences


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


#: A probability that moved by less is as it was.
LEAST_MOVE = 0.001


@dataclass(frozen=True, slots=True)
class Rechecked:
    """What an item is called now: `item.now` is what it was called before, `after` what it is.

    `because`: the changes of the catalog in the sets that it was or is called after.
    """

    item: Item
    after: Named
    because: tuple[Difference, ...] = ()

    @property
    def before(self) -> Named:
        """What it was called before."""
        return self.item.now

    @property
    def is_renamed(self) -> bool:
        """Whether it is called otherwise."""
        return _called(self.before) != _called(self.after)

    @property
    def is_moved(self) -> bool:
        """Whether any probability of what it may be is another."""
        old, new = _shares(self.before), _shares(self.after)
        return any(
            abs(old.get(key, 0.0) - new.get(key, 0.0)) >= LEAST_MOVE for key in {*old, *new}
        ) or (abs(self.before.probability - self.after.probability) >= LEAST_MOVE)


@dataclass(frozen=True, slots=True)
class Recheck:
    """What a recheck came to: each item, and whether the log tells of any change of the catalog."""

    all: tuple[Rechecked, ...]
    catalog_changed: bool = False

    @property
    def renamed(self) -> tuple[Rechecked, ...]:
        """The items that are called otherwise now."""
        return tuple(one for one in self.all if one.is_renamed)

    @property
    def moved(self) -> tuple[Rechecked, ...]:
        """The items that are called as before, with another probability."""
        return tuple(one for one in self.all if one.is_moved and not one.is_renamed)


def recheck(
    path: Path,
    items: Sequence[Item],
    naming: Naming,
    advance: Callable[[int, int], None] = lambda done, total: None,
) -> Recheck:
    """Name items anew by the catalog of the book at `path`; nothing is written."""
    found = []
    for number, item in enumerate(items, start=1):
        found.append(Rechecked(item, naming.name(item.thing)))
        advance(number, len(items))
    entries = [one.before.entry for one in found if one.is_renamed]
    if not entries:
        return Recheck(tuple(found))
    changes = _changes_since(path, min(entries))
    told = [
        Rechecked(one.item, one.after, _because(one, changes)) if one.is_renamed else one
        for one in found
    ]
    return Recheck(tuple(told), bool(changes))


def keep_recheck(path: Path, done: Recheck, what: str) -> None:
    """Write what the items are called now, in one change of the book; what is as it was stays."""
    from cogtally.shelf.stock.book import stock_writing

    other = [one for one in done.all if one.is_renamed or one.is_moved]
    if not other:
        return
    with stock_writing(path, what) as stock:
        there = {item.number: item for item in stock.items()}
        for one in other:
            item = there.get(one.item.number)
            # Whoever changed its counts meanwhile has named it anew.
            if item is not None and item.thing == one.item.thing:
                stock.put_named(item.number, one.after)


def _changes_since(path: Path, entry: int) -> list[tuple[int, Difference]]:
    """Every change of a family or a set behind an entry of the book's log, the oldest first."""
    from cogtally.catalog.book import FAMILIES, SETS, differences_of
    from cogtally.store import changes_since

    return [
        (later, difference)
        for later, change in changes_since(path, entry, (FAMILIES, SETS))
        for difference in differences_of([change])
    ]


def _because(one: Rechecked, changes: Iterable[tuple[int, Difference]]) -> tuple[Difference, ...]:
    """The changes since an item was named in what it was and what it is called after.

    Where one set was changed several times, the last change tells.
    """
    subjects = {
        f"{named.family}/{known}" for named in (one.before, one.after) for known in named.sets
    }
    found = {
        difference.subject: difference
        for entry, difference in changes
        if entry > one.before.entry and difference.subject in subjects
    }
    return tuple(found.values())


def _called(named: Named) -> tuple[object, ...]:
    return (named.name, named.verdict, named.family, named.piece, named.teeth, named.sets)


def _shares(named: Named) -> dict[tuple[object, ...], float]:
    return {(s.family, s.piece, s.teeth, s.sets): s.probability for s in named.shares}


#: From here on an answer needs no further count.
SETTLED = 0.90
_DOUBT = UNSETTLED.removesuffix("likeliest")


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says: texts as they were typed, empty where nothing is said.

    `ratios`: gear and turns in for one turn out, of a pair or a box whose teeth are known.
    `count`: the wheel, or place of a loose piece, whose count would tell most, empty where the
    item is sure enough; `again`: whether it was counted before; `has_places`: whether the item is
    a piece of several wheels.
    """

    number: int
    kind: str
    name: str
    probability: float
    counted: str = ""
    ratios: tuple[tuple[str, Fraction], ...] = ()
    place: str = ""
    price: str = ""
    count: str = ""
    again: bool = False
    has_places: bool = False


def labels_of(items: Iterable[Item], naming: Naming) -> tuple[Label, ...]:
    """Return what the labels of items say, each as the item was last named; things alike once."""
    wanted: dict[Thing, tuple[str, bool]] = {}
    found = []
    for item in items:
        thing = item.thing
        if item.now.probability < SETTLED and thing not in wanted:
            wanted[thing] = _to_count(naming.catalog, thing)
        count, again = wanted.get(thing, ("", False))
        details = item.details
        found.append(
            Label(
                number=item.number,
                kind=item.kind,
                # How sure it is stands below the name.
                name=item.now.name.removeprefix(_DOUBT),
                probability=item.now.probability,
                counted="" if _is_told(thing, item.now.name) else thing.text,
                ratios=_ratios(naming.catalog, item),
                place=details.place,
                price=details.price.text if details.price else "",
                count=count,
                again=again,
                has_places=item.kind == PIECE and len(thing.places) > 1,
            )
        )
    return tuple(found)


def _is_told(thing: Thing, name: str) -> bool:
    """Whether a name has all the counts in it already."""
    ways = (thing.words, thing.words[::-1])
    along = thing.kind == PIECE and any("-".join(way) in name for way in ways)
    return thing.text in name or along


def _ratios(catalog: Catalog, item: Item) -> tuple[tuple[str, Fraction], ...]:
    """The ratios of a pair by its counts; of a box by the sets that it is of, where they agree."""
    if item.kind == PAIR:
        counted = {wheel: {c.teeth for c in some} for wheel, some in item.thing.places}
        pair = pair_of(next(iter(counted)))
        ends = [counted.get(f"{pair}.{role}", set()) for role in ("driver", "driven")]
        ratio = pair_ratio([end.pop() if len(end) == 1 else None for end in ends])
        return ((pair, ratio),) if ratio is not None else ()
    family = catalog.by_id.get(item.now.family)
    if item.kind != BOX or family is None or item.now.probability < SETTLED:
        return ()
    sets: list[Mapping[str, Fraction | None]] = [
        gear_ratios(family, known) for known in family.counted_sets if known.id in item.now.sets
    ]
    if not sets or item.now.verdict not in ("matched", "narrowed"):
        return ()
    return tuple(
        (gear, ratio)
        for gear, ratio in sets[0].items()
        if ratio is not None and all(other.get(gear) == ratio for other in sets)
    )


def _to_count(catalog: Catalog, thing: Thing) -> tuple[str, bool]:
    """The wheel or place worth most to count, and whether it was counted; empty for none."""
    if not catalog.families:
        return "", False
    counted = dict(thing.places)
    try:
        if thing.kind == PIECE:
            answer = _loose(catalog, thing)
            worth = list(answer.posterior.worth) if answer.fits else []
            if not worth:
                return "", False
            best = str(max(range(len(worth)), key=lambda place: worth[place]) + 1)
            return best, bool(counted.get(best))
        from cogtally.evidence.advice import advise

        advice = advise(catalog, thing.box, thing.only_family or None, turns=False)
    except UserError:
        # The catalog has no such piece, family or feature any more: there is nothing to advise.
        return "", False
    wheel = advice.wheels[0].wheel if advice.wheels else ""
    return wheel, bool(counted.get(wheel))
