"""The integer programme of the kits: how many parts of each kind go where, exactly.

What parts and places mean is left to `kits`, solving to the HiGHS solver.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import Any

#: A place to be filled: family, set, piece.
Slot = tuple[str, str, str]


def most_kits(
    kits: Sequence[Sequence[Slot]],
    fits: Sequence[Collection[Slot]],
    supply: Sequence[int],
    worth: Sequence[int],
    *,
    value_first: bool,
) -> list[tuple[int, Slot, int]]:
    """Return (kind, slot, how many) of the best kits; parts that go nowhere are left out.

    `kits`: the slots of each kind of kit, which may be made many times; a slot belongs to one.
    Of each kind of part `fits` are the slots that take it, `supply` how many there are, `worth`
    what one is worth. `value_first`: most worth, then most kits; else the other way round.
    """
    found: list[tuple[int, Slot, int]] = []
    for together in _apart(kits, fits):
        slots = {slot for kit in together for slot in kits[kit]}
        flows = [
            (kind, slot)
            for kind, some in enumerate(fits)
            for slot in sorted(slots.intersection(some))
        ]
        counts = _solve([kits[k] for k in together], flows, supply, worth, value_first)
        found += [(*flow, count) for flow, count in zip(flows, counts, strict=True) if count]
    return found


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
