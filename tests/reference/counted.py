"""Knows how likely everything seen is in every configuration of a family's counted sets.

Leaves ratio-only sets to `printed`, the family's new set to `new_set`, other families and the
answer to `enumeration`.

A configuration gives every piece one state. All of them stand in one array with an axis a piece;
nothing is left out, so the array must stay small enough to hold.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import reduce

import numpy as np

from .laws import FIRST, NEW_SET, PLACES, STRANGE, TEETH, UNKNOWN, Rho, log_counts, mesh_table
from .layout import CountedSet, Family
from .looks import CLASH, cannot_run, piece_look_logs
from .states import State, Wheel, piece_states, state_priors
from .sums import root_sums, unknown_log
from .written import Seen, Turn

#: The most configurations that a family may have here.
CELLS = 4_000_000

#: A factor: the pieces that it hangs on, and its logarithm over the whole array's axes.
Part = tuple[frozenset[str], np.ndarray]


class CountedFamily:
    """All configurations of one family's counted sets, with their prior.

    `total` is the commonness of the whole catalog; the prior adds up to the share of these sets
    without that of the family's new set.
    """

    def __init__(
        self, family: Family, rho: Rho, total: float, families: Sequence[Family] = ()
    ) -> None:
        self.family, self.rho = family, rho
        self.families = families or [family]
        self.names = family.wheel_names()
        self.pieces = list(family.pieces)
        self.states = {piece: piece_states(family, piece) for piece in self.pieces}
        self.shape = tuple(len(self.states[piece]) for piece in self.pieces)
        if math.prod(self.shape) > CELLS:
            raise ValueError(f"{family.id}: {math.prod(self.shape)} configurations are too many")
        self.home = {w: (p, i) for p, ws in family.pieces.items() for i, w in enumerate(ws)}
        self.clusters = list(self._clusters())
        self.tables = {mesh: mesh_table(sums) for mesh, sums in family.meshes.items()}
        self.groups = self._groups()
        self.classes = self._classes()
        self.clash = self._clash()
        components = [self._component(cluster, {})[1] for cluster in self.clusters]
        mesh = np.exp(self._sum([*components, self.clash]))
        self.prior = np.zeros(self.shape)
        for one in family.counted:
            weighted = self._set_prior(one)
            share = (1 - NEW_SET) * one.commonness / total
            self.prior += share / float((weighted * mesh).sum()) * weighted
        self._plain: dict[int, Part] = {}

    def _along(self, piece: str, values: np.ndarray) -> np.ndarray:
        axis = self.pieces.index(piece)
        return values.reshape([-1 if i == axis else 1 for i in range(len(self.pieces))])

    def _sum(self, arrays: Iterable[np.ndarray]) -> np.ndarray:
        return np.broadcast_to(reduce(np.add, arrays, np.zeros((1,) * len(self.shape))), self.shape)

    def _set_prior(self, one: CountedSet) -> np.ndarray:
        product = np.ones(self.shape)
        for piece, states in self.states.items():
            own = one.types[piece]
            product = product * self._along(piece, state_priors(self.family, piece, states, own))
        return product

    # -- what a configuration is called ------------------------------------------------------

    def _groups(self) -> list[list[CountedSet]]:
        groups: list[list[CountedSet]] = []
        for one in self.family.counted:
            for group in groups:
                if group[0].types == one.types:
                    group.append(one)
                    break
            else:
                groups.append([one])
        return groups

    def _classes(self) -> np.ndarray:
        """Return the matched group's number of every configuration; then come mixed, variant."""
        mixed, variant = len(self.groups), len(self.groups) + 1
        classes = np.full(self.shape, mixed)
        for number, group in enumerate(self.groups):
            whole = np.ones(self.shape, dtype=bool)
            fits = np.ones(self.shape, dtype=bool)
            for piece, states in self.states.items():
                own = group[0].types[piece]
                is_own = np.array([state.kind == own for state in states])
                unlisted = np.array([state.kind is None for state in states])
                whole = whole & self._along(piece, is_own)
                fits = fits & self._along(piece, is_own | unlisted)
            classes[fits & (classes == mixed)] = variant
            classes[whole] = number
        return classes

    # -- wheels in mesh ----------------------------------------------------------------------

    def _clusters(self) -> Iterator[list[str]]:
        """Yield the wheels that hang together by meshes with a factor."""
        left = list(self.home)
        while left:
            cluster = [left.pop(0)]
            for wheel in cluster:
                for mesh in self.family.meshes:
                    if wheel in mesh:
                        cluster += [w for w in mesh if w in left]
                        left = [w for w in left if w not in mesh]
            yield cluster

    def _support(
        self, wheel: str, what: Wheel, seen: Mapping[str, np.ndarray]
    ) -> tuple[np.ndarray, np.ndarray, float]:
        """Return the teeth a wheel can have, their weights with what was seen, and a logarithm."""
        logs = seen.get(wheel)
        if isinstance(what, int):
            return np.array([what]), np.ones(1), 0.0 if logs is None else float(logs[what - FIRST])
        # reading: a wheel with two names is unknown by its one name, that on the right in `same`.
        rho = self.rho.of(wheel, what)[UNKNOWN]
        if logs is None:
            return TEETH[UNKNOWN], rho, 0.0
        # The top of those it can have: an excluded count repeated a thousand times must not be it.
        top = float(logs[UNKNOWN][rho > 0].max())
        return TEETH[UNKNOWN], rho * np.exp(np.minimum(logs[UNKNOWN] - top, 0.0)), top

    def mesh_matrix(self, mesh: tuple[str, str], a: np.ndarray, b: np.ndarray) -> np.ndarray:
        """Return the mesh factor for every teeth in `a` against every teeth in `b`."""
        return self.tables[mesh][a[:, None] + b[None, :]]

    def _mesh(
        self, mesh: tuple[str, str], a: np.ndarray, b: np.ndarray, kept: dict[object, np.ndarray]
    ) -> np.ndarray:
        key = (mesh, *(v[0] if len(v) == 1 else None for v in (a, b)))
        if key not in kept:
            kept[key] = self.mesh_matrix(mesh, a, b)
        return kept[key]

    def _component(
        self, cluster: list[str], seen: Mapping[str, np.ndarray], keep: str | None = None
    ) -> Part:
        """Return the logarithm of a cluster's sum over its unknown teeth, for every state.

        With `keep`, one more axis at the end: that wheel's teeth, 4…200, not summed.
        """
        pieces = [p for p in self.pieces if any(self.home[w][0] == p for w in cluster)]
        root = keep if keep is not None else cluster[0]
        meshes = [mesh for mesh in self.family.meshes if mesh[0] in cluster]
        sizes = [len(self.states[piece]) for piece in pieces]
        result = np.zeros([*sizes, PLACES] if keep else sizes)
        done: dict[tuple[Wheel, ...], np.ndarray | float] = {}
        kept: dict[object, np.ndarray] = {}
        for places in itertools.product(*map(range, sizes)):
            state = {p: self.states[p][i] for p, i in zip(pieces, places, strict=True)}
            what = tuple(state[self.home[w][0]].wheels[self.home[w][1]] for w in cluster)
            if what not in done:
                supports = {
                    w: self._support(w, x, seen) for w, x in zip(cluster, what, strict=True)
                }
                matrices = {
                    mesh: self._mesh(mesh, supports[mesh[0]][0], supports[mesh[1]][0], kept)
                    for mesh in meshes
                }
                vectors = {w: vector for w, (_, vector, _) in supports.items()}
                inner = root_sums(root, vectors, matrices)
                offset = math.fsum(top for _, _, top in supports.values())
                if keep:
                    wide = np.full(PLACES, -np.inf)
                    with np.errstate(divide="ignore"):
                        wide[supports[root][0] - FIRST] = np.log(inner) + offset
                    done[what] = wide
                else:
                    done[what] = math.log(math.fsum(inner)) + offset
            result[places] = done[what]
        shape = [n if p in pieces else 1 for p, n in zip(self.pieces, self.shape, strict=True)]
        return frozenset(pieces), result.reshape([*shape, PLACES] if keep else shape)

    def _clash(self) -> np.ndarray:
        """Return the logarithm of what listed wheels in mesh that cannot run are rarer by."""
        total = np.zeros((1,) * len(self.pieces))
        meshes = {
            frozenset(self.family.wheel(f"{pair}.{part}") for part in two)
            for pair, parts in self.family.pairs.items()
            for two in itertools.pairwise(parts)
            if self.family.layout != "axle"
        }
        for mesh in meshes:
            one, other = sorted(mesh)
            here, there = self.home[one][0], self.home[other][0]
            logs = np.zeros((len(self.states[here]), len(self.states[there])))
            for i, state in enumerate(self.states[here]):
                for j, mate in enumerate(self.states[there]):
                    if state.kind is None or mate.kind is None:
                        continue
                    kinds = self.family.types[here][state.kind], self.family.types[there][mate.kind]
                    if cannot_run(self.family, (one, kinds[0]), (other, kinds[1])):
                        logs[i, j] = math.log(CLASH)
            if here == there:
                total = total + self._along(here, np.diagonal(logs))
                continue
            if self.pieces.index(here) > self.pieces.index(there):
                logs, here, there = logs.T, there, here
            shape = [
                n if p in (here, there) else 1 for p, n in zip(self.pieces, self.shape, strict=True)
            ]
            total = total + logs.reshape(shape)
        return total

    def look_parts(
        self, families: Sequence[Family], seen: Seen, hand: str
    ) -> tuple[float, list[Part]]:
        """Return what was looked at of nothing here, and a factor for each piece looked at."""
        offset, by_piece = piece_look_logs(families, self.family, seen.looks, hand)
        parts: list[Part] = []
        for piece, logs in by_piece.items():
            states = [logs[-1 if s.kind is None else s.kind] for s in self.states[piece]]
            parts.append((frozenset([piece]), self._along(piece, np.array(states))))
        return offset, parts

    # -- what was seen -----------------------------------------------------------------------

    def missing_pairs(self, seen: Seen) -> set[str]:
        """Return the pairs with a counted wheel that the family does not have."""
        return {name.rpartition(".")[0] for name in seen.counts if name not in self.names}

    def lacks(self, seen: Seen) -> bool:
        """Return whether something was counted or turned that the family does not have."""
        return bool(self.missing_pairs(seen)) or any(not self.has_gears(t) for t in seen.turns)

    def has_gears(self, turn: Turn) -> bool:
        """Return whether the family has every gear of a turn test."""
        return all(gear in self.family.gears for gear in turn.gears)

    def missing_gear(self, turn: Turn) -> float:
        """Return the density of a turn test of a gear that the family does not have."""
        return STRANGE * turn.slip()

    def ratio(
        self, gears: Iterable[str], state: Mapping[str, State], seen: Seen
    ) -> Fraction | None:
        """Return the ratio through some gears in a configuration, None where there is none."""
        ratio = Fraction(1)
        for pair in [pair for gear in gears for pair in self.family.gears[gear]]:
            for part, over in (("driver", False), ("driven", True)):
                wheel = self.family.wheel(f"{pair}.{part}")
                piece, place = self.home[wheel]
                teeth = state[piece].wheels[place]
                if not isinstance(teeth, int):
                    names = [n for n, w in self.names.items() if w == wheel]
                    guess = seen.likeliest(names)
                    if guess is None:
                        return None
                    teeth = guess
                ratio = ratio * teeth if over else ratio / teeth
        return ratio

    def path_pieces(self, gears: Iterable[str]) -> list[str]:
        """Return the pieces whose teeth the ratio through some gears hangs on."""
        pairs = [pair for gear in gears for pair in self.family.gears[gear]]
        wheels = [self.family.wheel(f"{p}.{part}") for p in pairs for part in ("driver", "driven")]
        return [p for p in self.pieces if any(self.home[w][0] == p for w in wheels)]

    def _turn(self, turn: Turn, seen: Seen) -> Part:
        if not self.has_gears(turn):
            return frozenset(), np.full((1,) * len(self.pieces), math.log(self.missing_gear(turn)))
        pieces = self.path_pieces(turn.gears)
        sizes = [len(self.states[piece]) for piece in pieces]
        logs = np.zeros(sizes)
        done: dict[Fraction | None, float] = {}
        for places in itertools.product(*map(range, sizes)):
            state = {p: self.states[p][i] for p, i in zip(pieces, places, strict=True)}
            ratio = self.ratio(turn.gears, state, seen)
            if ratio not in done:
                done[ratio] = math.log(turn.density(ratio))
            logs[places] = done[ratio]
        shape = [n if p in pieces else 1 for p, n in zip(self.pieces, self.shape, strict=True)]
        return frozenset(pieces), logs.reshape(shape)

    def wheel_logs(self, seen: Seen, hand: str) -> dict[str, np.ndarray]:
        """Return log p(all counts of the wheel | t) for every counted wheel of the family."""
        logs: dict[str, np.ndarray] = {}
        for name, counts in seen.counts.items():
            if name in self.names:
                wheel = self.names[name]
                logs[wheel] = logs.get(wheel, np.zeros(PLACES)) + log_counts(counts, hand)
        return logs

    def strange_log(self, seen: Seen, hand: str) -> float:
        """Return the logarithm of what the counted wheels are worth that the family lacks."""
        # reading: once a pair, however many of its wheels are lacking; once a turn test.
        total = len(self.missing_pairs(seen)) * math.log(STRANGE)
        for name, counts in seen.counts.items():
            if name not in self.names:
                total += unknown_log(self.rho.of(name), log_counts(counts, hand))
        return total

    def joint(self, seen: Seen, hand: str, without: str | None = None) -> tuple[float, np.ndarray]:
        """Return (a, w): exp(a)·w is prior times likelihood of every configuration.

        The prior includes the base set's but not the 0.90 nor the hand's. With `without`, the
        cluster of that wheel is left out (`teeth_component` gives it, kept by its teeth).
        """
        logs = self.wheel_logs(seen, hand)
        parts = []
        for number, cluster in enumerate(self.clusters):
            if without in cluster:
                continue
            if any(wheel in logs for wheel in cluster):
                parts.append(self._component(cluster, logs))
            else:
                if number not in self._plain:
                    self._plain[number] = self._component(cluster, {})
                parts.append(self._plain[number])
        parts += [self._turn(turn, seen) for turn in seen.turns]
        offset, looked = self.look_parts(self.families, seen, hand)
        parts += looked
        total = self._sum([*(array for _, array in parts), self.clash])
        top = float(total.max())
        return top + offset + self.strange_log(seen, hand), np.exp(total - top) * self.prior

    def teeth_component(self, seen: Seen, hand: str, wheel: str) -> Part:
        """Return the cluster that `joint(…, without=wheel)` left out, by the wheel's teeth."""
        cluster = next(cluster for cluster in self.clusters if wheel in cluster)
        return self._component(cluster, self.wheel_logs(seen, hand), keep=wheel)
