"""What the page has to know of a catalog, as one JSON: types, pools of ρ, constants, keys, wishes.

How the page is put together and written is left to `page`, the law on the telephone to
`page/law.js`. Everything is as short as it can be, for a large catalog has to fit on a telephone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from cogtally.catalog.apart import identification_key
from cogtally.catalog.model import Catalog, Family, PieceType
from cogtally.evidence import laws
from cogtally.evidence.loose import pool_of_all
from cogtally.evidence.rho import EVERY_PIECE, EVERY_WHEEL, Rho, known_features
from cogtally.gears.looks import COUNTED, KINDS, OUTSIDE, SIZED, mark_key

FORMAT = 1
#: A key of more sets than these is not worked out for the page: no one follows it on a telephone.
MOST_SETS_IN_A_KEY = 200


#: What the page does not do, and where it is done.
LIMITS = (
    "It names loose pieces, and follows the key of a family. A whole box, counted together or "
    "turned, is named at the bench: cogtally identify, cogtally session.",
    "It knows what the catalog had when the page was made, and learns nothing by itself. It asks "
    "nobody: nothing that you type leaves the telephone but by your own hand, from the bag.",
)


@dataclass(frozen=True, slots=True)
class Said:
    """What is said with every answer: a line, the cautions in full, and that of the demo."""

    line: str
    cautions: tuple[str, ...]
    demo: str


@dataclass(frozen=True, slots=True)
class Wish:
    """A piece that somebody looks for: of which set, with which teeth, why, and up to which price.

    `teeth` in the order of the piece's wheels, None for a gap; `up_to` and `currency` are empty
    where no price was noted.
    """

    family: str
    set: str
    piece: str
    teeth: tuple[int | None, ...]
    why: str = ""
    up_to: str = ""
    currency: str = ""


def tables_of(
    catalog: Catalog,
    digest: str,
    made: datetime,
    *,
    said: Said,
    only: Sequence[str] = (),
    wishes: Iterable[Wish] | None = None,
) -> dict[str, Any]:
    """Return all that the page has to know, as plain lists, texts and numbers.

    `digest`: of all that the catalog holds. `said`: what is said with every answer. `only`: the
    families that the page was asked to be of, where it is not of all. `wishes`: None where nothing
    was asked of what is wanted.
    """
    rho = Rho(catalog)
    plans: dict[str, tuple[int, Any]] = {}
    families = [_family(family, plans) for family in catalog.families]
    return {
        "format": FORMAT,
        "catalog": {
            "name": catalog.name,
            "made": made.isoformat(timespec="seconds"),
            "digest": digest,
            "families": len(catalog.families),
            "sets": catalog.set_count,
            "demo": catalog.demo,
            "only": list(only),
        },
        "law": constants(),
        "plans": [plan for _, plan in plans.values()],
        "families": families,
        "rho": {name: _pool(pool) for name, pool in rho.pools.items()},
        "rhoOfAll": _pool(pool_of_all(catalog)),
        "values": _values(rho),
        "caution": said.line,
        "cautions": list(said.cautions),
        "demo": said.demo,
        "limits": list(LIMITS),
        "wanted": None if wishes is None else [_wish(wish) for wish in wishes],
    }


def constants() -> dict[str, Any]:
    """Return every figure of the law of a loose piece, as the page's law calls it."""
    return {
        "uncatalogued": laws.UNCATALOGUED_PRIOR,
        "unlisted": laws.LOOSE_UNLISTED,
        "changedShare": laws.CHANGED_SHARE,
        "asFamily": laws.AS_LISTED_WHEEL,
        "least": laws.LEAST_TEETH,
        "greatest": laws.GREATEST_TEETH,
        "rhoUniform": laws.RHO_UNIFORM,
        "rhoNear": laws.RHO_NEAR,
        "rhoSpread": laws.RHO_SPREAD,
        "hands": list(laws.HAND_PRIOR),
        "q": list(laws.Q_OF_HAND),
        "unsure": laws.Q_UNSURE,
        "slip": laws.SLIP,
        "rightMark": laws.RIGHT_MARK,
        "readRight": laws.READ_RIGHT,
        "readWrong": laws.READ_WRONG,
        "anyMark": laws.ANY_MARK,
        "characters": laws.CHARACTERS,
        "kinds": {name: list(kinds) for name, kinds in KINDS.items()},
        "counted": list(COUNTED),
        "sized": list(SIZED),
        "kindRight": laws.KIND_RIGHT,
        "sizeSd": dict(laws.SIZE_SD),
        "sizeShare": laws.SIZE_SHARE,
        "unsureWider": laws.UNSURE_WIDER,
        "sizeSlip": laws.SIZE_SLIP,
        "slipFrom": laws.SLIP_FROM,
        "slipTo": laws.SLIP_TO,
        "slipBeyond": laws.SLIP_BEYOND,
        "wornFeature": OUTSIDE,
        "worn": laws.WORN,
        "wearMm": laws.WEAR_MM,
    }


def _family(family: Family, plans: dict[str, tuple[int, Any]]) -> dict[str, Any]:
    """A family: its arrangement by number, its sets, and the types of each piece."""
    counted = family.counted_sets
    plan = {
        "pieces": [[piece.name, list(piece.wheels)] for piece in family.pieces],
        "meshes": [list(mesh) for mesh in family.train.meshes],
    }
    number, _ = plans.setdefault(repr(plan), (len(plans), plan))
    found: dict[str, Any] = {
        "id": family.id,
        "plan": number,
        "sets": [[s.id, s.name, s.commonness] for s in counted],
        "types": [[_type(kind) for kind in family.types[p.name]] for p in family.pieces],
    }
    if family.name:
        found["name"] = family.name
    if family.ratio_only_sets:
        found["printed"] = len(family.ratio_only_sets)
    if 1 < len(counted) <= MOST_SETS_IN_A_KEY:
        found["key"] = _key(family)
    return found


def _type(kind: PieceType) -> list[Any]:
    """Teeth, who carries it, its marks with what they are compared by, and its features."""
    wheels = {wheel: index for index, wheel in enumerate(kind.piece.wheels)}
    found: list[Any] = [list(kind.teeth), list(kind.carriers)]
    marks = [[mark, key] for mark in kind.marks or () if (key := mark_key(mark))]
    features = [[wheels.get(o, -1), name, value] for o, name, value in known_features(kind)]
    if marks or features:
        found.append(marks)
    if features:
        found.append(features)
    return found


def _key(family: Family) -> list[Any]:
    """The key of `catalog apart` as nodes: a wheel, and for each count the sets or the next node.

    A count of null is any other; sets are given by their numbers.
    """
    counted = family.counted_sets
    wheels = tuple(family.train.wheels)
    key = identification_key(
        wheels,
        [s.id for s in counted],
        [tuple(family.teeth_of(s).get(w) for w in wheels) for s in counted],
        [s.commonness for s in counted],
    )
    number = {s.id: place for place, s in enumerate(counted)}
    return [
        [
            node.wheel,
            [
                [b.teeth, [number[name] for name in b.sets] if b.node is None else b.node]
                for b in node.branches
            ],
        ]
        for node in key.nodes
    ]


def _pool(pool: Any) -> list[list[Any]]:
    return [[teeth, _short(weight)] for teeth, weight in sorted(pool.items())]


def _short(weight: float) -> float | int:
    return int(weight) if weight == int(weight) else weight


def _values(rho: Rho) -> dict[str, dict[str, list[list[Any]]]]:
    """The values that the catalog has of each feature, of all pieces and of all wheels."""
    every = {"piece": EVERY_PIECE, "wheel": EVERY_WHEEL}
    found: dict[str, dict[str, list[list[Any]]]] = {of: {} for of in every}
    for feature in (*COUNTED, *SIZED, *KINDS):
        for of, name in every.items():
            pool = rho.values_of(name, feature)
            if pool:
                found[of][feature] = [[value, _short(weight)] for value, weight in pool.items()]
    return found


def _wish(wish: Wish) -> dict[str, Any]:
    return {
        "family": wish.family,
        "set": wish.set,
        "piece": wish.piece,
        "teeth": list(wish.teeth),
        "why": wish.why,
        "upTo": wish.up_to,
        "currency": wish.currency,
    }
