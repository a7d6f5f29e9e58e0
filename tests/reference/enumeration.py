"""Knows the posterior of an assembled box by going through everything that may be true of it.

Leaves the inside of a family to `counted`, `new_set` and `printed`, loose pieces to `loose`,
advice to `worth`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from .counted import CountedFamily
from .laws import HANDS, UNCATALOGUED, Doc, log_counts, log_sum
from .layout import Family, build_family, build_rho
from .looks import nowhere_log, piece_look_logs, read_looks
from .new_set import NewSet
from .printed import PrintedFamilySet
from .sums import unknown_log
from .written import Seen, Turn, read_words

#: An answer: its kind, for a matched or new one the family, for a matched one the group's sets.
Answer = tuple[str, str, tuple[str, ...]]


class Reference:
    """A whole catalog, ready to be asked.

    `docs` are families as tomllib reads them; the order of sets inside a group is theirs.
    """

    def __init__(self, docs: Iterable[Doc]) -> None:
        self.families: list[Family] = [build_family(doc) for doc in docs]
        self.rho = build_rho(self.families)
        self.total = math.fsum(
            one.commonness for family in self.families for one in [*family.counted, *family.printed]
        )
        self.counted = {
            family.id: CountedFamily(family, self.rho, self.total, self.families)
            for family in self.families
            if family.counted
        }
        self.new = {name: NewSet(one, self.total) for name, one in self.counted.items()}
        self.printed = {
            family.id: [PrintedFamilySet(family, one, self.rho) for one in family.printed]
            for family in self.families
        }

    # -- groups ------------------------------------------------------------------------------

    def printed_groups(self, family: Family) -> list[list[int]]:
        """Return the ratio-only sets of a family by number, those with the same ratios together."""
        # reading: the same gears with the same intervals (3.65 is not 3.650), in whatever order.
        groups: list[list[int]] = []
        for number, one in enumerate(family.printed):
            for group in groups:
                if family.printed[group[0]].ends == one.ends:
                    group.append(number)
                    break
            else:
                groups.append([number])
        return groups

    def has_counted_wheel(self, family: Family, seen: Seen) -> bool:
        """Return whether any wheel of any set of the family was counted."""
        # reading: a wheel that one ratio-only set alone has is a wheel of the family here.
        names = set(family.wheel_names())
        for one in self.printed[family.id]:
            names |= set(one.names)
        return any(name in names for name in seen.counts)

    # -- weights -----------------------------------------------------------------------------

    def printed_log(self, family: Family, number: int, seen: Seen, hand: str) -> float:
        """Return the logarithm of prior times likelihood of a ratio-only set, without the hand."""
        one = self.printed[family.id][number]
        prior = (1 - UNCATALOGUED) * one.set.commonness / self.total
        return (
            math.log(prior)
            + one.log_weight(seen, hand)
            + nowhere_log(self.families, seen.looks, hand)
        )

    def unknown_box_log(self, seen: Seen, hand: str) -> float:
        """Return the logarithm of prior times likelihood of a box of no family."""
        total = math.log(UNCATALOGUED) + nowhere_log(self.families, seen.looks, hand)
        for name, counts in seen.counts.items():
            total += unknown_log(self.rho.of(name), log_counts(counts, hand))
        return total + sum(math.log(turn.density(unknown_ratio(turn, seen))) for turn in seen.turns)

    def identify(
        self, words: Iterable[str], marks: Iterable[str] = (), features: Iterable[str] = ()
    ) -> dict[str, Any]:
        """Return the posterior of everything, given the words of what was seen."""
        seen = read_words(words)
        seen.looks = read_looks(marks, features)
        return self.identify_seen(seen)

    def identify_seen(self, seen: Seen) -> dict[str, Any]:
        """Return the posterior of everything, given what was seen."""
        answers: dict[Answer, list[float]] = {}
        so_far: dict[tuple[str, tuple[str, ...]], list[float]] = {}
        pieces: dict[tuple[str, str, int | None], list[float]] = {}
        families: dict[str, list[float]] = {family.id: [] for family in self.families}
        hands: dict[str, list[float]] = {hand: [] for hand in HANDS}
        every: list[float] = []

        def add(place: dict[Any, list[float]], key: object, log: float) -> None:
            place.setdefault(key, []).append(log)

        for kind in ("mixed", "variant", "uncatalogued"):
            answers[kind, "", ()] = []
        for hand, (prior, _) in HANDS.items():
            before = math.log(prior)
            log = before + self.unknown_box_log(seen, hand)
            add(answers, ("uncatalogued", "", ()), log)
            add(hands, hand, log)
            every.append(log)
            for family in self.families:
                groups = self.printed_groups(family)
                shown = self.has_counted_wheel(family, seen)
                for group in groups:
                    ids = tuple(family.printed[number].id for number in group)
                    logs = [before + self.printed_log(family, n, seen, hand) for n in group]
                    log = log_sum(logs)
                    add(answers, ("matched", family.id, ids), log)
                    add(families, family.id, log)
                    add(hands, hand, log)
                    every.append(log)
                    if shown:
                        add(so_far, (family.id, ids), log)
                if family.id not in self.counted:
                    continue
                counted = self.counted[family.id]
                offset, joint = counted.joint(seen, hand)
                offset += before + math.log(1 - UNCATALOGUED)
                whole = offset + _log(float(joint.sum()))
                add(families, family.id, whole)
                add(hands, hand, whole)
                every.append(whole)
                new = before + self.new[family.id].log_weight(seen, hand)
                add(answers, ("new", family.id, ()), new)
                add(families, family.id, new)
                add(hands, hand, new)
                every.append(new)
                for piece in counted.pieces:
                    add(pieces, (family.id, piece, None), new)
                for key, weight in class_weights(counted, seen, joint).items():
                    add(answers, key, offset + _log(weight))
                for ids, weight in so_far_weights(counted, seen, joint).items():
                    add(so_far, (family.id, ids), offset + _log(weight))
                for piece, kind_number, weight in piece_weights(counted, joint):
                    add(pieces, (family.id, piece, kind_number), offset + _log(weight))

        evidence = log_sum(every)

        def share(logs: Sequence[float]) -> float:
            return math.exp(log_sum(logs) - evidence)

        return {
            "answers": _shown_answers({key: share(logs) for key, logs in answers.items()}),
            "so_far": sorted(
                (
                    {"family": family, "sets": list(ids), "probability": share(logs)}
                    for (family, ids), logs in so_far.items()
                ),
                key=lambda one: -one["probability"],
            ),
            "pieces": [self._shown_piece(key, share(logs)) for key, logs in pieces.items()],
            "hands": {hand: share(logs) for hand, logs in hands.items()},
            "families": {family: share(logs) for family, logs in families.items()},
            "log_evidence": evidence,
        }

    def _shown_piece(self, key: tuple[str, str, int | None], share: float) -> dict[str, Any]:
        family_id, piece, number = key
        shown: dict[str, Any] = {"family": family_id, "piece": piece, "type": None, "sets": []}
        if number is not None:
            kind = self.counted[family_id].family.types[piece][number]
            shown["type"], shown["sets"] = list(kind.teeth), list(kind.sets)
        return {**shown, "probability": share}


def _log(weight: float) -> float:
    return math.log(weight) if weight > 0 else -math.inf


def _shown_answers(shares: dict[Answer, float]) -> list[dict[str, Any]]:
    named = [
        {
            "kind": kind,
            "family": family,
            **({"sets": list(ids)} if ids else {}),
            "probability": share,
        }
        for (kind, family, ids), share in shares.items()
        if family
    ]
    named.sort(key=lambda one: -one["probability"])
    rest = [
        {"kind": kind, "probability": shares[kind, "", ()]}
        for kind in ("mixed", "variant", "uncatalogued")
    ]
    return named + rest


def unknown_ratio(turn: Turn, seen: Seen) -> Fraction | None:
    """Return the ratio that a turn test is held against in a box of no family, or None.

    reading: `input` stands once, in front, where any wheel of it was counted; then each gear's
    own pair.
    """
    has_input = any(f"input.{part}" in seen.counts for part in ("driver", "idler", "driven"))
    return path_ratio(["input", *turn.gears] if has_input else list(turn.gears), seen)


def path_ratio(pairs: Sequence[str], seen: Seen) -> Fraction | None:
    """Return the exact ratio of some pairs at their likeliest teeth, None where not counted."""
    ratio = Fraction(1)
    for pair in pairs:
        driver = seen.likeliest([f"{pair}.driver"])
        driven = seen.likeliest([f"{pair}.driven"])
        if driver is None or driven is None:
            return None
        ratio = ratio * driven / driver
    return ratio


def class_keys(counted: CountedFamily, seen: Seen) -> list[Answer]:
    """Return the answer that each class of a family's configurations belongs to."""
    # reading: where the family lacks something that was seen, a box with every piece of one
    # set is a set of this family that the catalog lacks.
    lacks = counted.lacks(seen)
    matched: list[Answer] = [
        ("variant", "", ())
        if lacks
        else ("matched", counted.family.id, tuple(one.id for one in group))
        for group in counted.groups
    ]
    return [*matched, ("mixed", "", ()), ("variant", "", ())]


def class_weights(counted: CountedFamily, seen: Seen, joint: np.ndarray) -> dict[Answer, float]:
    """Return the weight of every answer of a family's counted sets, 0 for those ruled out."""
    keys = class_keys(counted, seen)
    weights = np.bincount(counted.classes.ravel(), weights=joint.ravel(), minlength=len(keys))
    shown: dict[Answer, float] = {
        ("matched", counted.family.id, tuple(one.id for one in group)): 0.0
        for group in counted.groups
    }
    for key, weight in zip(keys, weights.tolist(), strict=True):
        shown[key] = shown.get(key, 0.0) + weight
    return shown


def so_far_weights(
    counted: CountedFamily, seen: Seen, joint: np.ndarray
) -> dict[tuple[str, ...], float]:
    """Return the weight of every so-far group of a family's counted sets."""
    wheels = sorted({counted.names[name] for name in seen.counts if name in counted.names})
    levels = look_levels(counted, seen)
    if not (wheels or levels) or counted.lacks(seen):
        return {}

    def teeth_there(piece: str, kind: int) -> tuple[object, ...]:
        teeth = counted.family.types[piece][kind].teeth
        places = [counted.home[w][1] for w in wheels if counted.home[w][0] == piece]
        # reading: a gap agrees with a gap and with no number.
        return (*(teeth[i] for i in places), levels[piece][kind] if piece in levels else None)

    groups: dict[tuple[object, ...], list[str]] = {}
    chosen: dict[tuple[object, ...], tuple[np.ndarray, ...]] = {}
    touched = [
        p for p in counted.pieces if p in levels or any(counted.home[w][0] == p for w in wheels)
    ]
    for one in counted.family.counted:
        key = tuple(teeth_there(piece, one.types[piece]) for piece in touched)
        groups.setdefault(key, []).append(one.id)
        chosen[key] = np.ix_(
            *(
                [
                    i
                    for i, state in enumerate(counted.states[piece])
                    if piece not in touched
                    or (
                        state.kind is not None
                        and teeth_there(piece, state.kind) == teeth_there(piece, one.types[piece])
                    )
                ]
                for piece in counted.pieces
            )
        )
    return {tuple(ids): float(joint[chosen[key]].sum()) for key, ids in groups.items()}


def look_levels(counted: CountedFamily, seen: Seen) -> dict[str, list[tuple[float, ...]]]:
    """Return by piece how likely what was looked at is under each type, where that differs.

    reading: groups part by likelihood; a piece on which all is equally likely says nothing.
    """
    by_hand = [
        piece_look_logs(counted.families, counted.family, seen.looks, hand)[1] for hand in HANDS
    ]
    found = {}
    for piece in by_hand[0]:
        rows = [
            tuple(round(v, 9) for v in row)
            for row in zip(*(h[piece] for h in by_hand), strict=True)
        ]
        if len(set(rows)) > 1:
            found[piece] = rows[:-1]
    return found


def piece_weights(counted: CountedFamily, joint: np.ndarray) -> list[tuple[str, int | None, float]]:
    """Return the weight of every type of every piece, and of its being unlisted (None)."""
    # reading: ratio-only sets lend nothing here.
    rows: list[tuple[str, int | None, float]] = []
    for axis, piece in enumerate(counted.pieces):
        along = joint.sum(axis=tuple(i for i in range(joint.ndim) if i != axis))
        states = counted.states[piece]
        for kind in [*range(len(counted.family.types[piece])), None]:
            weight = sum(
                float(w) for w, state in zip(along, states, strict=True) if state.kind == kind
            )
            rows.append((piece, kind, weight))
    return rows


def identify(docs: Iterable[Doc], words: Iterable[str]) -> dict[str, Any]:
    """Return what `Reference(docs).identify(words)` does."""
    return Reference(docs).identify(words)
