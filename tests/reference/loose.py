"""Knows the posterior of a loose piece, by trying every place of every type both ways round.

Leaves assembled boxes to `enumeration`, and what to count next to `worth`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .enumeration import Reference
from .laws import (
    FIRST,
    HANDS,
    LOOSE_UNLISTED,
    NEW_LISTED,
    ONE_CHANGED,
    PLACES,
    UNCATALOGUED,
    Count,
    log_counts,
    log_sum,
)
from .layout import Family, law_with_listed
from .looks import (
    Looks,
    known_log,
    mark_log,
    marks_of,
    own_owner,
    pool_loose,
    read_looks,
    tied,
    unknown_log as unknown_look_log,
    unknown_mark_log,
    value_of,
)
from .sums import unknown_log
from .written import NOTHING_LOOKED_AT, read_count

#: An answer of a loose piece: family, piece and number of the type, None for unlisted; all empty
#: for uncatalogued.
Kind = tuple[str, str, int | None]
UNKNOWN_PIECE: Kind = ("", "", -1)


@dataclass(frozen=True, slots=True)
class Piece:
    """What was seen of a loose piece: counts by position, and whether wheels lie beyond an end."""

    counts: tuple[tuple[Count, ...], ...]
    beyond_first: bool
    beyond_last: bool
    looks: Looks = NOTHING_LOOKED_AT


def read_piece(words: Sequence[str]) -> Piece:
    """Return a piece from its counts along the axis, `..` allowed at either end."""
    inner = list(words)
    first = inner[:1] == [".."]
    inner = inner[1:] if first else inner
    last = inner[-1:] == [".."]
    inner = inner[:-1] if last else inner
    return Piece(tuple(tuple(read_count(word)) for word in inner), first, last)


def places(size: int, piece: Piece) -> Iterator[list[int]]:
    """Yield for every place that fits the wheels of a type of that size, by position."""
    seen = len(piece.counts)
    for order in (list(range(size)), list(range(size - 1, -1, -1))):
        for start in range(size - seen + 1):
            before, after = start, size - seen - start
            # reading: without `..` an end is the piece's end; with it at least one wheel is beyond.
            if (before > 0) == piece.beyond_first and (after > 0) == piece.beyond_last:
                yield order[start : start + seen]


def one_hot(teeth: int) -> np.ndarray:
    """Return certainty of these teeth."""
    law = np.zeros(PLACES)
    law[teeth - FIRST] = 1.0
    return law


def kind_laws(
    judge: Reference, family: Family, name: str, number: int
) -> Iterator[tuple[Kind, float, list[np.ndarray]]]:
    """Yield (answer, share, law of every wheel along the axis) of a candidate type.

    As it is listed; with each of its wheels changed, seen or not; and as a new piece.
    """
    wheels, teeth = family.pieces[name], family.types[name][number].teeth
    listed = [
        judge.rho.of(wheel) if t is None else one_hot(t)
        for wheel, t in zip(wheels, teeth, strict=True)
    ]
    yield (family.id, name, number), 1 - LOOSE_UNLISTED, listed
    unlisted: Kind = (family.id, name, None)
    for i, (wheel, t) in enumerate(zip(wheels, teeth, strict=True)):
        other = judge.rho.of(wheel, () if t is None else (t,))
        share = LOOSE_UNLISTED * ONE_CHANGED / len(wheels)
        yield unlisted, share, [*listed[:i], other, *listed[i + 1 :]]
    new = [law_with_listed(family, wheel, judge.rho, NEW_LISTED) for wheel in wheels]
    yield unlisted, LOOSE_UNLISTED * (1 - ONE_CHANGED), new


def piece_rows(
    judge: Reference, piece: Piece, role: str | None = None
) -> list[tuple[Kind, float, list[np.ndarray], list[int]]]:
    """Return (answer, prior, law of the teeth at each position, place) for everything that can be.

    The prior is split over the places of a type and over what it may be instead. Adding up to 1,
    uncatalogued included.
    """
    fitting = []
    for family in judge.families:
        for name, wheels in family.pieces.items():
            if role is not None and name != role:
                continue
            found = list(places(len(wheels), piece))
            for number, kind in enumerate(family.types[name]):
                if found:
                    fitting.append((family, name, number, kind, found))
    weight = math.fsum(kind.weight for _, _, _, kind, _ in fitting)
    rows = []
    for family, name, number, kind, found in fitting:
        prior = (1 - UNCATALOGUED) * kind.weight / weight / len(found)
        for place in found:
            for answer, share, laws in kind_laws(judge, family, name, number):
                rows.append((answer, prior * share, [laws[i] for i in place], place))
    rho = judge.rho.of_all()
    alone = UNCATALOGUED if fitting else 1.0
    return [*rows, (UNKNOWN_PIECE, alone, [rho] * len(piece.counts), [])]


def piece_logs(
    judge: Reference, piece: Piece, role: str | None = None
) -> list[tuple[Kind, str, float]]:
    """Return (answer, hand, log of prior times likelihood), a row a place."""
    rows = []
    for hand, (share, _) in HANDS.items():
        counts = [log_counts(counted, hand) for counted in piece.counts]
        for kind, prior, laws, place in piece_rows(judge, piece, role):
            log = (
                math.log(share) + math.log(prior) + look_log(judge, piece.looks, kind, place, hand)
            )
            log += math.fsum(unknown_log(law, logs) for law, logs in zip(laws, counts, strict=True))
            rows.append((kind, hand, log))
    return rows


def look_log(judge: Reference, looks: Looks, kind: Kind, place: Sequence[int], hand: str) -> float:
    """Return the logarithm of all looked at on a piece of one type, its wheels by place."""
    family_id, name, number = kind
    family = next((f for f in judge.families if f.id == family_id), None)
    listed = None if family is None or number is None else family.types[name][number]
    total = 0.0
    for mark in looks.marks:
        known = None if listed is None else marks_of(listed)
        total += mark_log(mark.reading, known) if known else unknown_mark_log(mark.reading)
    for (owner, key), group in tied(looks.features).items():
        value = None
        if family is not None and listed is not None:
            wheel = family.pieces[name][place[int(owner) - 1]] if owner else own_owner(family, name)
            value = value_of(family, name, listed, wheel, key)
        if value is None:
            total += unknown_look_log(group, pool_loose(judge.families, key, bool(owner)), hand)
        else:
            total += known_log(group, value, hand)
    return total


def identify_piece(
    judge: Reference,
    words: Iterable[str],
    role: str | None = None,
    marks: Iterable[str] = (),
    features: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the posterior of a loose piece, every answer, most probable first."""
    piece = read_piece(list(words))
    looks = read_looks(marks, features, loose=True)
    return posterior(judge, replace(piece, looks=looks), role)


def posterior(judge: Reference, piece: Piece, role: str | None = None) -> dict[str, Any]:
    """Return the same as `identify_piece`, of counts already read."""
    rows = piece_logs(judge, piece, role)
    evidence = log_sum([log for _, _, log in rows])

    def share(logs: Sequence[float]) -> float:
        return math.exp(log_sum(logs) - evidence)

    families = {family.id: family for family in judge.families}
    answers = []
    for kind in dict.fromkeys(kind for kind, _, _ in rows if kind != UNKNOWN_PIECE):
        family_id, name, number = kind
        listed = None if number is None else families[family_id].types[name][number]
        answers.append(
            {
                "family": family_id,
                "piece": name,
                "type": None if listed is None else list(listed.teeth),
                "sets": [] if listed is None else list(listed.sets),
                "probability": share([log for k, _, log in rows if k == kind]),
            }
        )
    return {
        "answers": sorted(answers, key=lambda one: -one["probability"]),
        "uncatalogued": share([log for k, _, log in rows if k == UNKNOWN_PIECE]),
        "hands": {h: share([log for _, hand, log in rows if hand == h]) for h in HANDS},
        "log_evidence": evidence,
    }
