"""The posterior of an assembled box: every family, every hand, and no family at all.

The sums over one family are left to `configurations` and `ratio_only`, the reading in words to
`verdict`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import exp, fsum, log, prod
from operator import mul

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.configurations import Allowed, Configurations, Sums
from cogtally.evidence.factors import Factor, mesh_factors, mesh_shapes, turn_factor
from cogtally.evidence.family_view import FamilyView, view_of_family, view_of_ratios
from cogtally.evidence.likelihood import (
    HAND_PRIOR,
    HASTY,
    LEAST_TEETH,
    STEADY,
    UNCATALOGUED_PRIOR,
    Reading,
    greatest_density,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.meshes import Likelihoods
from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    UNCATALOGUED,
    VARIANT,
    PieceShare,
    Posterior,
    Share,
)
from cogtally.evidence.prior import FamilyPrior, Mode
from cogtally.evidence.ratio_only import RatioOnlySet
from cogtally.evidence.rho import SIZE, Rho
from cogtally.evidence.seen import SeenBox
from cogtally.gears.notation import Seen
from cogtally.gears.trains import INPUT, pair_of

#: Families are left out only where a bound proves all of them together to be below this share.
LEFT_OUT = 1e-13
HANDS = (STEADY, HASTY)
_LEAST_LOG = -1e300


class Prepared:
    """A catalog made ready for many questions: all that does not depend on what was seen."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.rho = Rho(catalog)
        self._families: dict[str, FamilyPrior] = {}
        self._normalisers: dict[str, list[float]] = {}
        self._ratio_only: dict[str, list[RatioOnlySet]] = {}

    def family(self, family: Family) -> FamilyPrior:
        """Return the states, weights and meshes of a family with counted sets."""
        found = self._families.get(family.id)
        if found is None:
            found = self._families[family.id] = FamilyPrior(family, self.rho)
        return found

    def ratio_only(self, family: Family) -> list[RatioOnlySet]:
        """Return the sets of a family that are known by printed ratios only."""
        found = self._ratio_only.get(family.id)
        if found is None:
            found = [RatioOnlySet(family, known, self.rho) for known in family.ratio_only_sets]
            self._ratio_only[family.id] = found
        return found

    def normalisers(self, family: Family) -> list[float]:
        """Return the sum of all weighted configurations of each base set, nothing seen."""
        found = self._normalisers.get(family.id)
        if found is None:
            prior = self.family(family)
            factors = mesh_factors(prior, mesh_shapes(prior), {})
            found = self._normalisers[family.id] = Configurations(prior, factors).bases()
        return found


_PREPARED: list[Prepared] = []


def prepare(catalog: Catalog) -> Prepared:
    """Return the catalog made ready; the last few are kept, since one is asked many questions."""
    for ready in _PREPARED:
        if ready.catalog is catalog:
            return ready
    ready = Prepared(catalog)
    _PREPARED.append(ready)
    del _PREPARED[:-4]
    return ready


def posterior(catalog: Catalog, seen: Seen, family: str | None = None) -> Posterior:
    """Return the exact posterior of a box; `family` (an id) restricts what is catalogued to one.

    ρ is of the whole catalog either way. Sums are exact but for rounding, and for families that a
    bound proves to be below LEFT_OUT of the total together.
    """
    ready = prepare(catalog)
    box = SeenBox(seen, ready.rho)
    families = [f for f in catalog.families if family is None or f.id == family]
    commonness = fsum(s.commonness for f in families for s in f.sets)
    parts: list[_Counted | _Ratios] = []
    for one in families:
        if one.counted_sets:
            parts.append(_Counted(ready, one, box, commonness))
        parts.extend(_Ratios(known, box, commonness) for known in ready.ratio_only(one))
    unknown = _Unknown(box, seen)
    worked = _work(parts, unknown)
    return _gather(parts, worked, unknown, families, commonness)


class _Unknown:
    """A box of no catalogued family: every wheel from its ρ."""

    def __init__(self, box: SeenBox, seen: Seen) -> None:
        turned = sum(log(_unknown_density(box, gears, r)) for gears, r in box.turns)
        self.logs = [
            turned + sum(box.log_elsewhere(name, hand) for name in box.counts) for hand in HANDS
        ]


def _unknown_density(box: SeenBox, gears: Sequence[str], reading: Reading) -> float:
    """The path is `input` if that pair was counted, then each gear's own pair."""
    counted = any(pair_of(name) == INPUT for name in box.counts)
    ratio = Fraction(1)
    for pair in [INPUT, *gears] if counted else gears:
        driver, driven = box.likeliest([f"{pair}.driver"]), box.likeliest([f"{pair}.driven"])
        if driver is None or driven is None:
            return no_ratio_density(reading)
        ratio *= Fraction(driven, driver)
    return reading_density(reading, ratio)


class _Ratios:
    """One set known by printed ratios only."""

    def __init__(self, known: RatioOnlySet, box: SeenBox, commonness: float) -> None:
        self.known = known
        self.family = known.family
        self.view = view_of_ratios(known, box)
        self._box = box
        self._log_prior = log((1 - UNCATALOGUED_PRIOR) * known.known.commonness / commonness)
        self.values = [0.0, 0.0]
        self.scales = [0.0, 0.0]

    def log_bound(self, hand: int) -> float:
        seen, scale = self.view.likelihoods(self._box, hand)
        return self._log_prior + scale + log(prod(max(v) for v in seen.values()))

    def work(self) -> None:
        """Work out the set's share, `values[hand]` · e^`scales[hand]`."""
        for hand in HANDS:
            seen, scale = self.view.likelihoods(self._box, hand)
            self.scales[hand] = self._log_prior + scale
            self.values[hand] = self.known.likelihood(seen)


class _Counted:
    """The counted sets of one family."""

    def __init__(self, ready: Prepared, family: Family, box: SeenBox, commonness: float) -> None:
        self.family = family
        self.view = view_of_family(family, box)
        self._ready = ready
        self._box = box
        self.prior = ready.family(family)
        share = (1 - UNCATALOGUED_PRIOR) / commonness
        self._base_priors = [
            share * sum(family.counted_sets[m].commonness for m in members)
            for _, members in self.prior.bases
        ]
        self.groups = _so_far_groups(family, self.prior, self.view)
        self._weights: list[float] = []
        self._configurations: list[Configurations] = []
        self.sums = [Sums([]), Sums([])]
        self.values = [0.0, 0.0]
        self.scales = [0.0, 0.0]

    def log_bound(self, hand: int) -> float:
        """A bound on the family's log share: every mesh factor and test at its greatest."""
        seen, scale = self.view.likelihoods(self._box, hand)
        for _, reading in self.view.readings:
            scale += log(greatest_density(reading))
        likely = self._alone(seen)
        bound = 0.0
        for (own, _), weight in zip(self.prior.bases, self._base_priors, strict=True):
            for piece, kind in enumerate(own):
                weights = self.prior.weights(piece, kind)
                weight *= sum(map(mul, weights, likely[piece]))
            bound += weight / self.prior.least_normaliser(own)
        return scale + log(bound) if bound > 0 else _LEAST_LOG

    def _alone(self, seen: Likelihoods) -> list[list[float]]:
        """The likelihood of each state of each piece, its meshes left out."""
        known: dict[tuple[str, Mode], float] = {}

        def of(wheel: str, mode: Mode) -> float:
            found = known.get((wheel, mode))
            if found is None:
                by_teeth = seen[wheel]
                if isinstance(mode, int):
                    found = by_teeth[mode]
                else:
                    span = by_teeth[LEAST_TEETH : LEAST_TEETH + SIZE]
                    found = sum(map(mul, self.prior.unknown(wheel, mode), span))
                known[wheel, mode] = found
            return found

        likely = []
        for piece, states in zip(self.prior.pieces, self.prior.states, strict=True):
            counted = [(i, wheel) for i, wheel in enumerate(piece.wheels) if wheel in seen]
            likely.append([prod([of(w, state.modes[i]) for i, w in counted]) for state in states])
        return likely

    def _factors(self, hand: int) -> tuple[list[Factor], float]:
        seen, scale = self.view.likelihoods(self._box, hand)
        factors = mesh_factors(self.prior, mesh_shapes(self.prior), seen)
        for path, reading in self.view.readings:
            factor = turn_factor(self.prior, path, reading, self._likeliest)
            if isinstance(factor, float):
                scale += log(factor)
            else:
                factors.append(factor)
        return factors, scale

    def _likeliest(self, wheel: str) -> int | None:
        return self._box.likeliest(self.view.wheels.get(wheel, ()))

    def work(self) -> None:
        """Work out the family's share, `values[hand]` · e^`scales[hand]`, and all in it."""
        normalisers = self._ready.normalisers(self.family)
        self._weights = [p / z for p, z in zip(self._base_priors, normalisers, strict=True)]
        allowed = [allowed for _, allowed in self.groups]
        for hand in HANDS:
            factors, self.scales[hand] = self._factors(hand)
            configurations = Configurations(self.prior, factors)
            self._configurations.append(configurations)
            sums = self.sums[hand] = configurations.sums(self._weights, allowed)
            self.values[hand] = sum(map(mul, self._weights, sums.bases))

    def pieces(self, scaled: Sequence[float]) -> list[PieceShare]:
        """Return the share of every type of every piece, given what each hand's sums weigh."""
        tables = [each.pieces(self._weights) for each in self._configurations]
        shares = []
        for index, piece in enumerate(self.prior.pieces):
            types = self.family.types[piece.name]
            by_kind: dict[int | None, float] = dict.fromkeys([*range(len(types)), None], 0.0)
            for state_index, state in enumerate(self.prior.states[index]):
                by_kind[state.kind] += sum(
                    weight * table[index][state_index]
                    for weight, table in zip(scaled, tables, strict=True)
                )
            for kind, share in by_kind.items():
                known = None if kind is None else types[kind]
                shares.append(
                    PieceShare(
                        self.family.id,
                        piece.name,
                        None if known is None else known.teeth,
                        ()
                        if known is None
                        else tuple(self.family.counted_sets[c].id for c in known.carriers),
                        share,
                    )
                )
        return shares


def _so_far_groups(
    family: Family, prior: FamilyPrior, view: FamilyView
) -> list[tuple[tuple[str, ...], Allowed]]:
    """The sets alike in every counted wheel, with what their pieces may be."""
    if view.lacks or not view.wheels:
        return []
    members: dict[tuple[int | None, ...], list[int]] = {}
    for index, known in enumerate(family.counted_sets):
        teeth = family.teeth_of(known)
        members.setdefault(tuple(teeth[w] for w in view.wheels), []).append(index)
    groups: list[tuple[tuple[str, ...], Allowed]] = []
    for teeth_there, sets in members.items():
        wanted = dict(zip(view.wheels, teeth_there, strict=True))
        allowed: dict[int, frozenset[int]] = {}
        for index, piece in enumerate(prior.pieces):
            places = [i for i, w in enumerate(piece.wheels) if w in wanted]
            if places:
                types = family.types[piece.name]
                allowed[index] = frozenset(
                    k
                    for k, kind in enumerate(types)
                    if all(kind.teeth[i] == wanted[piece.wheels[i]] for i in places)
                )
        groups.append((tuple(family.counted_sets[s].id for s in sets), allowed))
    return groups


def _work(parts: Sequence[_Counted | _Ratios], unknown: _Unknown) -> list[_Counted | _Ratios]:
    """Work out every part that can matter, the likeliest first, until no other can."""
    bounded = sorted(
        (
            (max(part.log_bound(hand) for hand in HANDS), number)
            for number, part in enumerate(parts)
        ),
        reverse=True,
    )
    total = max(unknown.logs) + log(UNCATALOGUED_PRIOR * min(HAND_PRIOR))
    worked = []
    for place, (bound, number) in enumerate(bounded):
        left = len(bounded) - place
        if bound + log(left) < total + log(LEFT_OUT):
            break
        part = parts[number]
        part.work()
        worked.append((number, part))
        for hand in HANDS:
            if part.values[hand] > 0:
                share = part.scales[hand] + log(part.values[hand] * HAND_PRIOR[hand])
                total = max(total, share)
    return [part for _, part in sorted(worked, key=lambda pair: pair[0])]


def _gather(
    parts: Sequence[_Counted | _Ratios],
    worked: Sequence[_Counted | _Ratios],
    unknown: _Unknown,
    families: Sequence[Family],
    commonness: float,
) -> Posterior:
    """Bring all parts to one scale and read the answers off them."""
    nothing = 1.0 if not commonness else UNCATALOGUED_PRIOR
    top = max([*unknown.logs, *(s for part in worked for s in part.scales)])
    by_hand = [nothing * HAND_PRIOR[hand] * exp(unknown.logs[hand] - top) for hand in HANDS]
    uncatalogued = fsum(by_hand)
    scaled = []
    for part in worked:
        scaled.append([HAND_PRIOR[hand] * exp(part.scales[hand] - top) for hand in HANDS])
        for hand in HANDS:
            by_hand[hand] += scaled[-1][hand] * part.values[hand]
    total = fsum(by_hand)
    matched: dict[tuple[str, tuple[str, ...]], float] = {}
    so_far: list[Share] = []
    counted_families = {part.family.id for part in parts if part.view.wheels}
    shares = dict.fromkeys((f.id for f in families), 0.0)
    mixed = variant = 0.0
    ratio_groups: dict[tuple[str, object], tuple[list[str], float]] = {}
    for part, weights in zip(worked, scaled, strict=True):
        whole = sum(w * v for w, v in zip(weights, part.values, strict=True)) / total
        shares[part.family.id] += whole
        if isinstance(part, _Ratios):
            ids, share = ratio_groups.get((part.family.id, part.known.key), ([], 0.0))
            ratio_groups[part.family.id, part.known.key] = (
                [*ids, part.known.known.id],
                share + whole,
            )
            continue
        counted = _read_masks(part, weights, total)
        settled = fsum(counted.values())
        variant += counted.pop((), 0.0)
        matched.update({(part.family.id, sets): p for sets, p in counted.items()})
        mixed += max(0.0, whole - settled)
        for number, (sets, _) in enumerate(part.groups):
            share = sum(w * s.groups[number] for w, s in zip(weights, part.sums, strict=True))
            so_far.append(Share(MATCHED, share / total, part.family.id, sets))
    for (family, _), (ids, share) in ratio_groups.items():
        matched[family, tuple(ids)] = share
        if family in counted_families:
            so_far.append(Share(MATCHED, share, family, tuple(ids)))
    answers = [Share(MATCHED, p, family, sets) for (family, sets), p in matched.items()]
    answers.sort(key=lambda a: -a.probability)
    answers += [
        Share(MIXED, mixed),
        Share(VARIANT, variant),
        Share(UNCATALOGUED, uncatalogued / total),
    ]
    leading = max(shares, key=shares.__getitem__, default="")
    pieces: list[PieceShare] = []
    for part, weights in zip(worked, scaled, strict=True):
        if isinstance(part, _Counted) and part.family.id == leading:
            pieces = part.pieces([w / total for w in weights])
    return Posterior(
        answers=tuple(answers),
        so_far=tuple(sorted(so_far, key=lambda a: -a.probability)),
        families=shares,
        leading=leading,
        pieces=tuple(pieces),
        steady=by_hand[STEADY] / total,
        log_evidence=top + log(total),
    )


def _read_masks(
    part: _Counted, weights: Sequence[float], total: float
) -> dict[tuple[str, ...], float]:
    """Matched groups by their sets, and the variants under the empty group."""
    sets = part.family.counted_sets
    listed = 1 << len(sets)
    found: dict[tuple[str, ...], float] = {(): 0.0}
    for weight, sums in zip(weights, part.sums, strict=True):
        for mask, value in sums.masks.items():
            group: tuple[str, ...] = ()
            if mask & listed and not part.view.lacks:
                group = tuple(s.id for i, s in enumerate(sets) if mask >> i & 1)
            found[group] = found.get(group, 0.0) + weight * value / total
    return found
