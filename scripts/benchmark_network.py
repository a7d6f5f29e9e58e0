"""Know one family as a network of a general-purpose library for exact inference, pyAgrum.

The same question is asked of both, and their answers are compared, before any time is told. How a
table is printed is left to `benchmark_measure`.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import count, islice
from math import fsum

from benchmark_catalogs import PAIRS, ROLES, box, made_family
from benchmark_measure import SEED, Scale, cost, head, median, ms, row, times

from cogtally.catalog.model import Catalog, Family, Piece
from cogtally.evidence.engine import posterior
from cogtally.evidence.laws import (
    CHANGED_SHARE,
    FOREIGN,
    HAND_PRIOR,
    OWN,
    Q_OF_HAND,
    SUM_FAR,
    SUM_OFF,
    TEETH_RANGE,
    UNLISTED,
    count_law,
)
from cogtally.evidence.rho import Rho
from cogtally.gears.notation import parse_seen

SETS = 6
#: How many wheels are counted of the twelve.
WHEELS_COUNTED = (4, 10)
OFF = 0.1
#: One family is asked so many questions for each run, behind as many that make it ready.
QUESTIONS = 8
#: The two are asked by turns, so many questions at a time: each warm, and the machine alike busy.
TURN = 16
#: Both answers to the same question may differ by so much, of a probability.
AGREE = 1e-9
BASE, HAND = "base", "hand"
LEAST = TEETH_RANGE[0]
FEWEST_COUNTED, MOST_COUNTED = 4, 200


class Network:
    """A family as a network: base set, hand, pieces, wheels; meshes and counts are evidence."""

    def __init__(self, catalog: Catalog, family: Family) -> None:
        import pyagrum

        self.gum = pyagrum
        self.family = family
        self.rho = Rho(catalog)
        self.common = [known.commonness for known in family.counted_sets]
        self.net = pyagrum.BayesNet()
        self._add(BASE, (), len(self.common))
        self._add(HAND, (), len(HAND_PRIOR))
        self._fill(HAND, {(): list(HAND_PRIOR)})
        self._fill(BASE, {(): [c / sum(self.common) for c in self.common]})
        #: For each piece, the types of its states; None is unlisted.
        self.kinds: dict[str, list[int | None]] = {}
        for piece in family.pieces:
            (self._add_single if len(piece.wheels) == 1 else self._add_many)(piece)
        self.meshes = [self._add_mesh(*mesh) for mesh in family.train.meshes]
        for piece in family.pieces:
            for wheel in piece.wheels:
                self._add_count(wheel)
        self._set_prior()
        self.engine = pyagrum.LazyPropagation(self.net)
        self.engine.setTargets(set(self.kinds))

    def ask(self, counts: Mapping[str, int]) -> dict[str, list[float]]:
        """Return the marginal of every piece over its types, the last for unlisted."""
        seen = {f"count of {wheel}": teeth - FEWEST_COUNTED for wheel, teeth in counts.items()}
        self.engine.setEvidence({**dict.fromkeys(self.meshes, 0), **seen})
        self.engine.makeInference()
        found = {}
        for name, kinds in self.kinds.items():
            sums = [0.0] * (1 + max(k for k in kinds if k is not None) + 1)
            for kind, share in zip(kinds, self.engine.posterior(name).tolist(), strict=True):
                sums[-1 if kind is None else kind] += share
            found[name] = sums
        return found

    def _set_prior(self) -> None:
        """Divide each base set's prior by the sum of its configurations: nothing seen."""
        engine = self.gum.LazyPropagation(self.net)
        engine.setEvidence(dict.fromkeys(self.meshes, 0))
        engine.makeInference()
        weighed = engine.posterior(BASE).tolist()
        prior = [c * c / w for c, w in zip(self.common, weighed, strict=True)]
        self._fill(BASE, {(): [p / sum(prior) for p in prior]})

    def _add(self, name: str, parents: Sequence[str], size: int, low: int = 0) -> None:
        self.net.add(self.gum.RangeVariable(name, "", low, low + size - 1))
        for parent in parents:
            self.net.addArc(parent, name)

    def _fill(self, name: str, rows: Mapping[tuple[int, ...], list[float]]) -> None:
        """Write the table of a node: its row for the states of its parents, in their order."""
        table = self.net.cpt(name)
        array = table.toarray()
        for states, values in rows.items():
            # Its axes are the parents, the last of them first, and the node itself.
            array[states[::-1]] = values
        table[:] = array

    def _prior(self, piece: Piece, base: int) -> list[float]:
        """The weight of each listed type of a piece for a base set."""
        types = self.family.types[piece.name]
        own = self.family.type_index[piece.name][base]
        rest = sum(kind.weight for kind in types) - types[own].weight
        if len(types) == 1:
            return [OWN + FOREIGN]
        return [OWN if k == own else FOREIGN * kind.weight / rest for k, kind in enumerate(types)]

    def _add_single(self, piece: Piece) -> None:
        (wheel,) = piece.wheels
        listed = {kind.teeth[0] or 0: k for k, kind in enumerate(self.family.types[piece.name])}
        spread = excluding(self.rho.of(wheel), listed)
        self._add(wheel, (BASE,), len(TEETH_RANGE), LEAST)
        for base in range(len(self.common)):
            weights = self._prior(piece, base)
            values = [
                weights[listed[t]] if t in listed else UNLISTED * spread[t - LEAST]
                for t in TEETH_RANGE
            ]
            self._fill(wheel, {(base,): values})
        self.kinds[wheel] = [listed.get(t) for t in TEETH_RANGE]

    def _add_many(self, piece: Piece) -> None:
        """States: every listed type, every type with one wheel changed, altogether unlisted."""
        types, name = self.family.types[piece.name], piece.name
        total = sum(kind.weight for kind in types)
        wheels = piece.wheels
        changed = [(k, w) for k in range(len(types)) for w in range(len(wheels))]
        self._add(name, (BASE,), len(types) + len(changed) + 1)
        share = UNLISTED * CHANGED_SHARE
        one = [share * types[k].weight / total / len(wheels) for k, _ in changed]
        for base in range(len(self.common)):
            self._fill(name, {(base,): [*self._prior(piece, base), *one, UNLISTED - share]})
        self.kinds[name] = [*range(len(types)), *(None for _ in changed), None]
        for place, wheel in enumerate(wheels):
            rho = self.rho.of(wheel)
            at = [[float(t == kind.teeth[place]) for t in TEETH_RANGE] for kind in types]
            other = [
                excluding(rho, [types[k].teeth[place] or 0]) if w == place else at[k]
                for k, w in changed
            ]
            self._add(wheel, (name,), len(TEETH_RANGE), LEAST)
            rows = {(state,): values for state, values in enumerate([*at, *other, rho])}
            self._fill(wheel, rows)

    def _add_mesh(self, left: str, right: str) -> str:
        teeth = [self.family.teeth_of(known) for known in self.family.counted_sets]
        sums = {(t[left] or 0) + (t[right] or 0) for t in teeth}
        name = f"mesh of {left} {right}"
        self._add(name, (left, right), 2)
        rows = {}
        for a in TEETH_RANGE:
            for b in TEETH_RANGE:
                off = min(abs(a + b - whole) for whole in sums)
                runs = SUM_OFF[off] if off < len(SUM_OFF) else SUM_FAR
                rows[a - LEAST, b - LEAST] = [runs, 1 - runs]
        self._fill(name, rows)
        return name

    def _add_count(self, wheel: str) -> None:
        possible = range(FEWEST_COUNTED, MOST_COUNTED + 1)
        name = f"count of {wheel}"
        self._add(name, (wheel, HAND), len(possible) + 1, FEWEST_COUNTED)
        rows = {}
        for t in TEETH_RANGE:
            for hand, q in enumerate(Q_OF_HAND):
                law = [count_law(abs(c - t), q) for c in possible]
                # The last state is a count that cannot be written.
                rows[t - LEAST, hand] = [*law, max(1 - fsum(law), 0.0)]
        self._fill(name, rows)


def excluding(rho: Sequence[float], excluded: Collection[int]) -> list[float]:
    """Return ρ without the excluded teeth, renormalised."""
    left = [0.0 if t in excluded else w for t, w in zip(TEETH_RANGE, rho, strict=True)]
    return [value / sum(left) for value in left]


def shares(catalog: Catalog, family: Family, counts: Mapping[str, int]) -> dict[str, list[float]]:
    """Return the solver's marginal of every piece, given a listed set of that family.

    A set that the catalog lacks is no part of the network; its pieces are unlisted.
    """
    found = posterior(catalog, parse_seen([f"{wheel}={teeth}" for wheel, teeth in counts.items()]))
    new = found.of_kind("new")
    of: dict[str, list[float]] = {}
    for piece in family.pieces:
        name = piece.name if len(piece.wheels) > 1 else piece.wheels[0]
        types = [kind.teeth for kind in family.types[piece.name]]
        own = {one.teeth: one.probability for one in found.pieces if one.piece == piece.name}
        listed = [own.get(t, 0.0) for t in types]
        every = [*listed, own.get(None, 0.0) - new]
        of[name] = [share / (found.families[family.id] - new) for share in every]
    return of


def network(scale: Scale) -> None:
    """One family of six sets, every piece's marginal: pyAgrum over the solver, per question."""
    family = made_family(random.Random(SEED), "one", SETS)
    catalog = Catalog((family,))
    peer = Network(catalog, family)
    head("counts", "solver, ms CPU", "pyAgrum, ms CPU", "pyAgrum over solver", "differ by at most")
    for wheels in WHEELS_COUNTED:
        every = list(islice(boxes(catalog, wheels), QUESTIONS * (1 + scale.runs)))
        words = [parse_seen([f"{w}={t}" for w, t in seen.items()]) for seen in every]
        ours, theirs, apart = [], [], 0.0
        for start in range(0, len(every), TURN):
            ours += [cost(lambda w=w: posterior(catalog, w)) for w in words[start:][:TURN]]
            theirs += [cost(lambda s=s: peer.ask(s)) for s in every[start:][:TURN]]
        for seen in every[::QUESTIONS]:
            asked, told = peer.ask(seen), shares(catalog, family, seen)
            apart = max(
                apart,
                *(abs(a - b) for n in asked for a, b in zip(asked[n], told[n], strict=True)),
            )
        if apart > AGREE:
            raise AssertionError(f"the network and the solver differ by {apart:.1e}")
        # The first questions of each make ready what the others use again.
        solver, other = median(ours[QUESTIONS:]), median(theirs[QUESTIONS:])
        ratio = times(other.cpu, solver.cpu)
        row(wheels, ms(solver.cpu), ms(other.cpu), ratio, f"{apart:.0e}")


def boxes(catalog: Catalog, wheels: int) -> Iterator[dict[str, int]]:
    """Yield the counts of so many wheels of seeded boxes, one in ten a tooth off.

    No question comes twice: both sides keep what they worked out for the last.
    """
    dice = random.Random(SEED)
    asked = set()
    for number in count():
        pairs = box(catalog, number)
        ends = list(zip(ROLES, (0, -1), strict=True))
        every = [(f"{pair}.{role}", pairs[pair][end] or 0) for pair in PAIRS for role, end in ends]
        seen = {
            wheel: teeth + (dice.choice((-1, 1)) if dice.random() < OFF else 0)
            for wheel, teeth in every[:wheels]
        }
        if tuple(seen.values()) not in asked:
            asked.add(tuple(seen.values()))
            yield seen


PARTS = {"network": network}
