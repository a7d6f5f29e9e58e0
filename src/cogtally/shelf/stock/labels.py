"""What a label says of an item: its name, counts and ratios, and what would make it sure.

How it looks on paper is left to `show`, the probabilities to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from cogtally.catalog.gear_ratios import gear_ratios
from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError
from cogtally.gears.trains import pair_of, pair_ratio
from cogtally.shelf.stock.items import BOX, PAIR, PIECE, Item, Thing
from cogtally.shelf.stock.naming import UNSETTLED

if TYPE_CHECKING:
    from cogtally.shelf.stock.naming import Naming

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
            from cogtally.evidence.loose_views import identify_piece

            answer = identify_piece(catalog, thing.piece, thing.role or None)
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
