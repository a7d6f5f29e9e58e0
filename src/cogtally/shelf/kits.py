"""Which complete matched sets the pieces on the shelf make, what remains, and what is missing.

An integer programme says how many parts of each kind go where, exactly; solving it is left to the
HiGHS solver, what each piece is to `stock`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from cogtally.catalog.model import Catalog, Family, Teeth
from cogtally.gears.errors import UserError
from cogtally.shelf.stock import PIECE, Item, Share, Want, Wanted, type_in

#: A place to be filled: family, set, piece.
Slot = tuple[str, str, str]


def _apart(kits: Sequence[Sequence[Slot]], fits: Sequence[Collection[Slot]]) -> Iterator[list[int]]:
    """The kits in groups that have no part in common: each is a programme of its own."""
    kit_of = {slot: number for number, kit in enumerate(kits) for slot in kit}
    leader = list(range(len(kits)))

    def root(kit: int) -> int:
        while leader[kit] != kit:
            leader[kit] = leader[leader[kit]]
            kit = leader[kit]
        return kit

    for some in fits:
        first, *others = sorted({root(kit_of[s]) for s in some if s in kit_of}) or [-1]
        for other in others:
            leader[root(other)] = root(first)
    groups: dict[int, list[int]] = defaultdict(list)
    for kit in range(len(kits)):
        groups[root(kit)].append(kit)
    yield from groups.values()


def _solve(
    kits: Sequence[Sequence[Slot]],
    flows: Sequence[tuple[int, Slot]],
    supply: Sequence[int],
    worth: Sequence[int],
    value_first: bool,
) -> list[int]:
    """How many parts run in each flow: columns of the programme are the flows, then the kits."""
    import highspy

    class Silent(highspy.Highs):
        """The solver without the greeting that it prints while it is made."""

        def enableCallbacks(self) -> None:  # noqa: N802
            self.silent()
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    solver: Any = Silent()  # type: ignore[no-untyped-call]
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("mip_rel_gap", 0.0)
    by_kind: dict[int, list[int]] = defaultdict(list)
    by_slot: dict[Slot, list[int]] = defaultdict(list)
    for column, (kind, slot) in enumerate(flows):
        by_kind[kind].append(column)
        by_slot[slot].append(column)
    most = [supply[kind] for kind, _ in flows]
    most += [min(sum(most[c] for c in by_slot[slot]) for slot in kit) for kit in kits]
    for column, bound in enumerate(most):
        solver.addVar(0.0, float(bound))
        solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    for kind, columns in by_kind.items():
        solver.addRow(0.0, float(supply[kind]), len(columns), columns, [1.0] * len(columns))
    for number, kit in enumerate(kits):
        for slot in kit:
            row = [*by_slot[slot], len(flows) + number]
            solver.addRow(0.0, 0.0, len(row), row, [1.0] * (len(row) - 1) + [-1.0])
    value = [float(worth[kind]) for kind, _ in flows] + [0.0] * len(kits)
    count = [0.0] * len(flows) + [1.0] * len(kits)
    solver.changeObjectiveSense(highspy.ObjSense.kMaximize)
    goals = (value, count) if value_first else (count, value)
    found = [0] * len(most)
    for goal in goals:
        for column, each in enumerate(goal):
            solver.changeColCost(column, each)
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise AssertionError(f"the kits were not solved: {solver.getModelStatus()}")
        found = [round(v) for v in solver.getSolution().col_value]
        # What was reached first may not be lost again; both goals count in whole numbers.
        reached = sum(each * n for each, n in zip(goal, found, strict=True))
        used = [column for column, each in enumerate(goal) if each]
        if used:
            solver.addRow(
                reached - 0.5, highspy.kHighsInf, len(used), used, [goal[c] for c in used]
            )
    return found[: len(flows)]


#: A piece counts from this probability on, unless somebody says otherwise.
LEAST_SURE = 0.90
#: Types that the teeth do not part are alike where none is so many times as likely as another.
ALIKE = 10.0
#: A set is nearly complete where no more pieces than this are missing, and more are there.
MOST_MISSING = 2

VALUE, COUNT = "value", "count"


@dataclass(frozen=True, slots=True)
class Part:
    """One piece that can go into a set: an item, or `piece` of a pair or box that is broken up.

    `slots`: every place that it fits. `price` is None where it has none of its own.
    """

    item: int
    slots: frozenset[Slot]
    price: Decimal | None = None
    piece: str = ""

    @property
    def value(self) -> Decimal:
        """The price, 0 without one."""
        return self.price or Decimal(0)


@dataclass(frozen=True, slots=True)
class Kit:
    """A complete set: a part for each piece of its family, in the order of the pieces."""

    family: str
    set: str
    parts: tuple[tuple[str, Part], ...]

    @property
    def value(self) -> Decimal:
        """The sum of the prices."""
        return sum((part.value for _, part in self.parts), Decimal(0))


@dataclass(frozen=True, slots=True)
class Near:
    """A set that what remains makes nearly: the parts there, and the pieces `missing`."""

    family: str
    set: str
    parts: tuple[tuple[str, Part], ...]
    missing: tuple[tuple[str, Teeth], ...]


@dataclass(frozen=True, slots=True)
class Kits:
    """The kits, what remains of the parts, and the sets nearly made, each from all that remains."""

    kits: tuple[Kit, ...]
    left: tuple[Part, ...]
    near: tuple[Near, ...]

    @property
    def value(self) -> Decimal:
        """The sum of all prices in the kits."""
        return sum((kit.value for kit in self.kits), Decimal(0))

    @property
    def unpriced(self) -> int:
        """How many parts in the kits have no price."""
        return sum(part.price is None for kit in self.kits for _, part in kit.parts)


def parts_of(
    items: Iterable[Item],
    catalog: Catalog,
    *,
    least: float = LEAST_SURE,
    mixed: bool = False,
    broken_up: bool = False,
) -> tuple[Part, ...]:
    """Return what can go into sets: pieces for sale that are of some type from `least` on.

    A type that several sets carry fits each. `mixed`: a piece whose teeth are those of several
    types, none of them ALIKE times as likely as another, fits each where they have `least`
    together. `broken_up`: a pair or a box gives its pieces whose every wheel is counted, where it
    is of some sets from `least` on; they have no price of their own.
    """
    found: list[Part] = []
    for item in items:
        if item.sale is not None:
            continue
        if item.kind == PIECE:
            slots = _known(_fitting(item.now.shares, least, mixed), catalog)
            if slots:
                price = item.details.price
                found.append(Part(item.number, slots, price.value if price else None))
        elif broken_up:
            found += _broken_up(item, catalog, least)
    return tuple(found)


def currency_of(items: Iterable[Item], parts: Iterable[Part]) -> str:
    """Return the currency of all prices of parts, empty without any; raise UserError if several."""
    used = {part.item for part in parts if part.price is not None}
    found = sorted(
        {i.details.price.currency for i in items if i.number in used and i.details.price}
    )
    if len(found) > 1:
        sentence = f"the prices are in {' and '.join(found)}: they do not add up"
        raise UserError(sentence, "stock kits", "--by count makes the most sets whatever the price")
    return "".join(found)


def make_kits(families: Sequence[Family], parts: Sequence[Part], by: str = VALUE) -> Kits:
    """Return the complete sets of some families that parts make, each part used once at most.

    By `value`: those that are worth most together, and the most of them where several choices are
    worth as much; by `count`: the most of them, and of these the most valuable. Exact.
    """
    needs = {(f.id, s.id): _slots(f, s.id) for f in families for s in f.counted_sets}
    wanted = {slot for slots in needs.values() for slot in slots}
    usable = [part for part in parts if part.slots & wanted]
    # Parts alike in place and price are one kind: the programme only counts them.
    kinds: dict[tuple[frozenset[Slot], Decimal], list[Part]] = defaultdict(list)
    for part in usable:
        kinds[part.slots & wanted, part.value].append(part)
    free = [sorted(some, key=lambda p: (p.item, p.piece)) for some in kinds.values()]
    kits = _filled(needs, _solved(needs, list(kinds), [len(some) for some in free], by), free)
    used = {(part.item, part.piece) for kit in kits for _, part in kit.parts}
    left = tuple(part for part in usable if (part.item, part.piece) not in used)
    return Kits(kits, left, _nearly(families, needs, left))


def _solved(
    needs: Mapping[tuple[str, str], Sequence[Slot]],
    kinds: Sequence[tuple[frozenset[Slot], Decimal]],
    supply: Sequence[int],
    by: str,
) -> list[tuple[int, Slot, int]]:
    """Return (kind, slot, how many) of the best kits; parts that go nowhere are left out.

    A kit may be made many times. Of each kind of part: the slots that take it, what one is worth,
    and how many there are.
    """
    there = {slot for slots, _ in kinds for slot in slots}
    kits = [slots for slots in needs.values() if all(slot in there for slot in slots)]
    # Whole numbers, so that the programme is exact.
    places = max((-int(value.as_tuple().exponent) for _, value in kinds), default=0)
    worth = [int(value.scaleb(max(places, 0))) for _, value in kinds]
    found: list[tuple[int, Slot, int]] = []
    for together in _apart(kits, [slots for slots, _ in kinds]):
        slots = {slot for kit in together for slot in kits[kit]}
        flows = [
            (kind, slot)
            for kind, (some, _) in enumerate(kinds)
            for slot in sorted(slots.intersection(some))
        ]
        counts = _solve([kits[k] for k in together], flows, supply, worth, by == VALUE)
        found += [(*flow, count) for flow, count in zip(flows, counts, strict=True) if count]
    return found


def _filled(
    needs: Mapping[tuple[str, str], Sequence[Slot]],
    flows: Iterable[tuple[int, Slot, int]],
    free: Sequence[list[Part]],
) -> tuple[Kit, ...]:
    """The kits of what goes where; of each place the dearest parts go together."""
    placed: dict[Slot, list[Part]] = defaultdict(list)
    for kind, slot, count in flows:
        placed[slot] += free[kind][:count]
        del free[kind][:count]
    found = []
    for (family, known), slots in needs.items():
        some = [sorted(placed[s], key=lambda p: (-p.value, p.item, p.piece)) for s in slots]
        names = [piece for _, _, piece in slots]
        found += [
            Kit(family, known, tuple(zip(names, row, strict=True)))
            for row in zip(*some, strict=True)
        ]
    return tuple(found)


def _nearly(
    families: Sequence[Family],
    needs: Mapping[tuple[str, str], Sequence[Slot]],
    left: Sequence[Part],
) -> tuple[Near, ...]:
    """The sets that lack few pieces, those that lack fewest first, then the most valuable."""
    fitting = _by_slot(sorted(left, key=lambda p: (-p.value, p.item, p.piece)))
    found = []
    for family in families:
        for known in family.counted_sets:
            slots = needs[family.id, known.id]
            there = _matched(slots, fitting)
            lacking = [slot[2] for slot in slots if slot not in there]
            if not lacking or len(lacking) > MOST_MISSING or len(lacking) >= len(there):
                continue
            parts = tuple((slot[2], there[slot]) for slot in slots if slot in there)
            missing = tuple((name, type_in(family, known.id, name) or ()) for name in lacking)
            found.append(Near(family.id, known.id, parts, missing))

    def order(near: Near) -> tuple[int, Decimal]:
        return len(near.missing), -sum((part.value for _, part in near.parts), Decimal(0))

    return tuple(sorted(found, key=order))


def completing(
    found: Iterable[Wanted], items: Iterable[Item], catalog: Catalog
) -> tuple[Wanted, ...]:
    """Return what a piece is wanted for, told whether the stock has all else of each set."""
    fitting = _by_slot(parts_of(items, catalog))

    def is_last(want: Want) -> bool:
        slots = _slots(catalog.by_id[want.family], want.set) if want.type else ()
        others = [slot for slot in slots if slot[2] != want.piece]
        return bool(others) and len(_matched(others, fitting)) == len(others)

    return tuple(replace(one, completes=is_last(one.want)) for one in found)


def _by_slot(parts: Iterable[Part]) -> Mapping[Slot, list[Part]]:
    found: dict[Slot, list[Part]] = defaultdict(list)
    for part in parts:
        for slot in part.slots:
            found[slot].append(part)
    return found


def _matched(slots: Sequence[Slot], fitting: Mapping[Slot, Sequence[Part]]) -> dict[Slot, Part]:
    """A part for as many places of one set as can be, each part in one (augmenting paths)."""
    owner: dict[tuple[int, str], Slot] = {}
    there: dict[Slot, Part] = {}

    def place(slot: Slot, tried: set[tuple[int, str]]) -> bool:
        for part in fitting.get(slot, ()):
            key = (part.item, part.piece)
            if key in tried:
                continue
            tried.add(key)
            if key not in owner or place(owner[key], tried):
                owner[key], there[slot] = slot, part
                return True
        return False

    for slot in slots:
        place(slot, set())
    return there


def _slots(family: Family, known: str) -> tuple[Slot, ...]:
    return tuple((family.id, known, piece.name) for piece in family.pieces)


def _fitting(shares: Sequence[Share], least: float, mixed: bool) -> set[Slot]:
    sure: dict[Slot, float] = defaultdict(float)
    for share in shares:
        for known in share.sets:
            sure[share.family, known, share.piece] += share.probability
    found = {slot for slot, probability in sure.items() if probability >= least}
    if mixed and shares:
        lead = max(shares, key=lambda share: share.probability)
        alike = [
            s for s in shares if s.teeth == lead.teeth and s.probability * ALIKE > lead.probability
        ]
        if sum(share.probability for share in alike) >= least:
            found |= {(share.family, s, share.piece) for share in alike for s in share.sets}
    return found


def _broken_up(item: Item, catalog: Catalog, least: float) -> list[Part]:
    """The pieces of a pair or a box that is of some sets from `least` on."""
    share = max(item.now.shares, key=lambda share: share.probability, default=None)
    family = catalog.by_id.get(share.family) if share else None
    if share is None or family is None or share.probability < least:
        return []
    counted = {family.train.canonical(wheel) for wheel, counts in item.thing.places if counts}
    found = []
    for piece in family.pieces:
        if counted.issuperset(piece.wheels):
            slots = _known({(family.id, known, piece.name) for known in share.sets}, catalog)
            if slots:
                found.append(Part(item.number, slots, None, piece.name))
    return found


def _known(slots: Iterable[Slot], catalog: Catalog) -> frozenset[Slot]:
    """The places that the catalog still has."""
    found = {slot: type_in(catalog.by_id.get(slot[0]), *slot[1:]) for slot in slots}
    return frozenset(slot for slot, teeth in found.items() if teeth is not None)
