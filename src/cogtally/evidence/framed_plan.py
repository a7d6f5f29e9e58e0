"""One family of any arrangement, asked when certain wheels were counted: its sums in arrays.

Families that fall into stars are left to `framed_pattern`, which is quicker, what was counted to
`framed`. Here the hubs are gone through state by state, as `structure` plans it, and given those
the clusters are independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

from cogtally.evidence.family_view import FamilyView
from cogtally.evidence.framed_arms import HANDS, Array, Teeth
from cogtally.evidence.framed_meshes import MeshTables
from cogtally.evidence.framed_pieces import rests
from cogtally.evidence.framed_rows import Rows
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.so_far import so_far_groups
from cogtally.evidence.structure import plan_for, table_entries

#: A family whose arrays would be larger goes the plain way.
MOST_NUMBERS = 1_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Pieces that are gone through together: the state of each piece in each joint state."""

    pieces: tuple[int, ...]
    states: Array

    @property
    def size(self) -> int:
        """How many joint states there are."""
        return int(self.states.shape[1])


class PlanFrame:
    """A family with its hubs, clusters and meshes, nothing seen.

    `meshes[mesh]` stand in `clusters[of_mesh[mesh]]` (None: between hubs alone) and are looked up
    at `at[mesh][hub state, cluster state]`; `clashes[cluster]`: what cannot run, `None` for hubs;
    `own[base, piece]`: the types of each base set; `matched[base]`: its weight but for meshes.
    """

    def __init__(self, rows: Rows, teeth: Teeth, meshes: Sequence[MeshTables]) -> None:
        prior = self.prior = rows.prior
        self.rows = rows
        self.teeth = teeth
        self.meshes = meshes
        links = [{prior.location[w][0] for w in mesh.wheels} for mesh in meshes]
        clashing = [set(clash.shape.pieces) for clash in prior.clashes]
        plan = plan_for([len(s) for s in prior.states], [*links, *clashing])
        self.hubs = _place(prior, plan.hubs)
        self.clusters = [_place(prior, pieces) for pieces in plan.clusters]
        self.of_mesh = [self._cluster(link) for link in links]
        self.at = [self._at(mesh, self.of_mesh[n]) for n, mesh in enumerate(meshes)]
        self.own = np.array([own for own, _ in prior.bases])
        self.matched = rows.drawn.copy()
        self.clashes: dict[int | None, Array] = {}
        for clash, link in zip(prior.clashes, clashing, strict=True):
            sizes = clash.shape.sizes
            every = [clash.value(seen) for seen in product(*map(range, sizes))]
            table = np.array(every).reshape(sizes)
            local = dict(zip(clash.shape.pieces, map(np.array, clash.shape.local), strict=True))
            cluster = self._cluster(link)
            places = tuple([self._spread(p, numbers, cluster) for p, numbers in local.items()])
            self.clashes[cluster] = self.clashes.get(cluster, 1.0) * table[places]
            self.matched *= table[tuple([n[self.own[:, p]] for p, n in local.items()])]

    def _cluster(self, link: set[int]) -> int | None:
        return next((n for n, c in enumerate(self.clusters) if link & set(c.pieces)), None)

    def _spread(self, piece: int, of_states: Array, cluster: int | None) -> Array:
        """Put what a piece has by state where it stands: [hub state, cluster state]."""
        if piece in self.hubs.pieces:
            on_hub: Array = of_states[self.hubs.states[self.hubs.pieces.index(piece)]][:, None]
            return on_hub
        assert cluster is not None
        place = self.clusters[cluster]
        found: Array = of_states[place.states[place.pieces.index(piece)]][None]
        return found

    def _at(self, mesh: MeshTables, cluster: int | None) -> Array:
        size = 1 if cluster is None else self.clusters[cluster].size
        found = np.zeros((self.hubs.size, size), dtype=np.intp)
        for piece in {self.prior.location[w][0] for w in mesh.wheels}:
            found += self._spread(piece, mesh.places(self.prior, piece), cluster)
        return found

    def own_at(self, mesh: MeshTables) -> Array:
        """Return where a mesh looks up each base set."""
        pieces = {self.prior.location[w][0] for w in mesh.wheels}
        places = [mesh.places(self.prior, piece)[self.own[:, piece]] for piece in pieces]
        found: Array = np.sum(places, axis=0)
        return found


def _place(prior: FamilyPrior, pieces: tuple[int, ...]) -> Place:
    joint = list(product(*(range(len(prior.states[piece])) for piece in pieces)))
    return Place(pieces, np.array(joint, dtype=np.intp).reshape(len(joint), len(pieces)).T)


def plan_frame_of(rows: Rows) -> PlanFrame | None:
    """Return the frame of a family of any arrangement; None where its meshes close a ring.

    None too where it is too large.
    """
    prior = rows.prior
    rings = any(len(c.edges) != len(c.wheels) - 1 for c in prior.components)
    if rings or table_entries(prior.family) > MOST_NUMBERS:
        return None
    teeth = Teeth(prior)
    meshes = [MeshTables(prior, component, teeth) for component in prior.components]
    if max(mesh.size for mesh in meshes) > MOST_NUMBERS:
        return None
    found = PlanFrame(rows, teeth, meshes)
    most = max(place.size for place in (found.hubs, *found.clusters))
    return None if most * rows.columns(rows.bases) > MOST_NUMBERS else found


@dataclass(frozen=True, slots=True, eq=False)
class PlanSums:
    """What a family adds up to under one question, by hand: see `PatternSums`.

    `hubs[hand or 1, hub state, 1]`: the meshes between hubs; `tables[cluster]`: those of each
    cluster, [hand or 1, hub state, cluster state]; `messages[cluster]`, summed over its states.
    """

    values: Array
    matched: Array
    hubs: Array
    tables: list[Array]
    messages: list[Array]


class PlanPattern:
    """A family of any arrangement with some wheels counted; `wheels`: whose laws are asked."""

    def __init__(self, frame: PlanFrame, view: FamilyView) -> None:
        self.frame = frame
        self.view = view
        rows = self.rows = frame.rows
        prior = frame.prior
        self.groups = so_far_groups(prior.family, prior, view)
        self.wheels: tuple[str | None, ...] = tuple(view.wheels)
        weights = [self._weights(piece) for piece in range(len(prior.pieces))]

        def joint(place: Place) -> Array:
            found = np.ones((rows.columns(len(self.groups)), place.size))
            for piece, states in zip(place.pieces, place.states, strict=True):
                found *= weights[piece][:, states]
            return found

        self._hubs = np.ascontiguousarray(joint(frame.hubs).T)
        self._behind = [joint(place) for place in frame.clusters]
        self._into = rows.into(len(self.groups)).reshape(self._hubs.shape[1], -1)
        self._counted = [
            n for n, m in enumerate(frame.meshes) if not view.wheels.keys().isdisjoint(m.wheels)
        ]
        self._own = [frame.own_at(mesh) for mesh in frame.meshes]
        #: What no count changes, of the hubs (None) and of each cluster.
        self._fixed: dict[int | None, Array] = {
            cluster: np.ones((1, 1, 1)) for cluster in (None, *range(len(frame.clusters)))
        }
        self._matched = frame.matched.copy()
        for cluster, clash in frame.clashes.items():
            self._fixed[cluster] = self._fixed[cluster] * clash
        for number, mesh in enumerate(frame.meshes):
            if number not in self._counted:
                table = mesh.table({})[0]
                cluster = frame.of_mesh[number]
                self._fixed[cluster] = self._fixed[cluster] * table.take(frame.at[number])
                self._matched *= table.take(self._own[number])
        for cluster, place in enumerate(frame.clusters):
            shape = 1, frame.hubs.size, place.size
            self._fixed[cluster] = np.ascontiguousarray(
                np.broadcast_to(self._fixed[cluster], shape)
            )
        changing = {frame.of_mesh[n] for n in self._counted}
        self._messages = {
            cluster: self._fixed[cluster] @ behind.T
            for cluster, behind in enumerate(self._behind)
            if cluster not in changing
        }
        self._bare = self._hubs * prod(self._messages.values())

    def _weights(self, piece: int) -> Array:
        """The weight of every state of a piece in each column: [row · base, state]."""
        rows = self.rows
        masks = rows.masks(piece, [allowed.get(piece) for _, allowed in self.groups])
        kinds = [0 if s.kind is None else 1 + s.kind for s in rows.prior.states[piece]]
        found: Array = masks[:, None, kinds] * rows.of_states[piece]
        return found.reshape(-1, len(kinds))

    def sums(self, laws: Array) -> PlanSums:
        """Return the sums under the laws of `wheels`, by hand and teeth of the frame."""
        frame = self.frame
        by_wheel = {w: law for w, law in zip(self.wheels, laws, strict=True) if w is not None}
        changed: dict[int | None, Array] = dict(self._fixed)
        matched = np.broadcast_to(self._matched, (HANDS, self.rows.bases))
        for number in self._counted:
            table = frame.meshes[number].table(by_wheel)
            cluster = frame.of_mesh[number]
            changed[cluster] = changed[cluster] * table.take(frame.at[number], axis=1)
            matched = matched * table.take(self._own[number], axis=1)
        hubs = changed[None]
        whole = self._bare * hubs
        messages = []
        for cluster, behind in enumerate(self._behind):
            message = self._messages.get(cluster)
            if message is None:
                message = changed[cluster] @ behind.T
                whole = whole * message
            messages.append(message)
        values = np.add.reduce(whole, axis=1) @ self._into
        tables = [changed[cluster] for cluster in range(len(self._behind))]
        return PlanSums(
            np.broadcast_to(values, (HANDS, values.shape[1])), matched, hubs, tables, messages
        )

    def shares(self, sums: PlanSums, by_hand: Sequence[float]) -> list[float]:
        """Return the share of every state of every piece, given what the sums of each hand weigh.

        Piece by piece: its types in their order, then what is unlisted.
        """
        frame, bases = self.frame, self.rows.bases
        hands = np.array(by_hand)[:, None, None]
        outside = self._hubs[:, :bases] * sums.hubs * self.rows.weights * hands
        found: dict[int, list[float]] = {}
        if sums.messages:
            shape = len(hands), frame.hubs.size, bases
            around = np.array([np.broadcast_to(m[..., :bases], shape) for m in sums.messages])
            rest = rests(around)
            whole = outside * rest[0] * around[0]
        else:
            whole = outside
        self._add(found, frame.hubs, whole.sum(axis=(0, 2)))
        for number, place in enumerate(frame.clusters):
            mine = (outside * rest[number]).transpose(2, 0, 1).reshape(bases, -1)
            table = np.broadcast_to(sums.tables[number], (*shape[:2], place.size))
            joint = (mine @ table.reshape(-1, place.size)) * self._behind[number][:bases]
            self._add(found, place, joint.sum(axis=0))
        return [share for piece in range(len(found)) for share in found[piece]]

    def _add(self, into: dict[int, list[float]], place: Place, joint: Array) -> None:
        for piece, states in zip(place.pieces, place.states, strict=True):
            types = self.rows.types(piece)
            by_state = np.bincount(states, joint, len(self.rows.prior.states[piece]))
            into[piece] = [*by_state[:types].tolist(), float(by_state[types:].sum())]
