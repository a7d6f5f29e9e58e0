"""What can be true of a box, part by part: a family's counted sets, a ratio-only set, no family.

How the parts are weighed against each other is left to `assembled`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property
from math import fsum, log, prod
from operator import mul
from typing import TYPE_CHECKING

from cogtally.catalog.model import Family
from cogtally.evidence.clusters import Allowed
from cogtally.evidence.configurations import Configurations, Sums
from cogtally.evidence.factors import (
    Factor,
    StateFactor,
    mesh_factors,
    mesh_shapes,
    turn_factor,
)
from cogtally.evidence.family_shares import answer_shares, piece_shares
from cogtally.evidence.family_view import FamilyView, view_of_family, view_of_ratios
from cogtally.evidence.likelihood import (
    HAND_PRIOR,
    HASTY,
    LEAST_TEETH,
    NEW_SET,
    STEADY,
    UNCATALOGUED_PRIOR,
    UNLISTED,
    Reading,
    greatest_density,
    no_ratio_density,
    reading_density,
)
from cogtally.evidence.meshes import Likelihoods
from cogtally.evidence.posterior import PieceShare
from cogtally.evidence.prepared import Prepared
from cogtally.evidence.prior import Mode
from cogtally.evidence.ratio_only import RatioOnlySet
from cogtally.evidence.rho import SIZE
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.so_far import so_far_groups
from cogtally.gears.trains import INPUT, pair_of

if TYPE_CHECKING:
    from cogtally.evidence.new_sets import NewSets

HANDS = (STEADY, HASTY)
#: The log of a value of 0.
LEAST_LOG = -1e300


class Unknown:
    """A box of no catalogued family: every wheel from its ρ."""

    def __init__(self, box: SeenBox) -> None:
        turned = sum(log(_unknown_density(box, gears, r)) for gears, r in box.turns)
        wheels = [box.logs_elsewhere(name) for name in box.counts]
        self.logs = [
            turned + box.log_unknown_looks(hand) + sum([logs[hand] for logs in wheels])
            for hand in HANDS
        ]


def _unknown_density(box: SeenBox, gears: Sequence[str], reading: Reading) -> float:
    ratio = unknown_ratio(box, gears)
    return no_ratio_density(reading) if ratio is None else reading_density(reading, ratio)


def unknown_ratio(box: SeenBox, gears: Sequence[str]) -> Fraction | None:
    """Return the ratio of gears in a box of no family, as far as counted; None if not.

    The path is `input` if that pair was counted, then each gear's own pair.
    """
    counted = any(pair_of(name) == INPUT for name in box.counts)
    ratio = Fraction(1)
    for pair in [INPUT, *gears] if counted else gears:
        driver, driven = box.likeliest([f"{pair}.driver"]), box.likeliest([f"{pair}.driven"])
        if driver is None or driven is None:
            return None
        ratio *= Fraction(driven, driver)
    return ratio


class _Part:
    """What can be true, with its value for each hand: `values[hand]` · e^`scales[hand]`.

    `is_quick`: to work it out takes no longer than a bound.
    """

    is_quick = False

    def __init__(self) -> None:
        self.values = [0.0, 0.0]
        self.scales = [0.0, 0.0]

    def log_share(self, hand: int) -> float:
        """Return the log of prior × likelihood from one hand, the hand's own prior included."""
        value = self.values[hand]
        return self.scales[hand] + log(value) + log(HAND_PRIOR[hand]) if value > 0 else LEAST_LOG


class Ratios(_Part):
    """One set known by printed ratios only."""

    def __init__(self, known: RatioOnlySet, box: SeenBox, commonness: float) -> None:
        super().__init__()
        self.known = known
        self.family = known.family
        self.view = view_of_ratios(known, box)
        self._box = box
        self._log_prior = log((1 - UNCATALOGUED_PRIOR) * known.known.commonness / commonness)

    def quick_bound(self, hand: int) -> float:
        """Return the only bound there is: every tied wheel at its likeliest."""
        return self.log_bound(hand)

    def log_bound(self, hand: int) -> float:
        """Return a bound on the set's log share: every tied wheel at its likeliest."""
        seen, scale = self._likelihoods(hand)
        return self._log_prior + scale + log(prod(max(v) for v in seen.values()))

    def _likelihoods(self, hand: int) -> tuple[Likelihoods, float]:
        """What was counted; nothing is known of the marks and features of such a set."""
        seen, scale = self.view.likelihoods(self._box, hand)
        return seen, scale + self._box.log_unknown_looks(hand)

    def work(self) -> None:
        """Work out the set's share, `values[hand]` · e^`scales[hand]`."""
        for hand in HANDS:
            seen, scale = self._likelihoods(hand)
            self.scales[hand] = self._log_prior + scale
            self.values[hand] = self.known.likelihood(seen)


class New(_Part):
    """The new set of one family with counted sets: one that the family has and the catalog lacks.

    `row`: the family's place among `sets`. It is worked out with all others of its shape.
    """

    is_quick = True

    def __init__(
        self, family: Family, view: FamilyView, box: SeenBox, sets: NewSets, row: int
    ) -> None:
        super().__init__()
        self.family = family
        self.view = view
        self.sets = sets
        self.row = row
        self._box = box

    def quick_bound(self, hand: int) -> float:
        """Return the log share itself."""
        return self.log_share(hand)

    log_bound = quick_bound

    def work(self) -> None:
        """Do nothing: `new_parts` has worked it out."""

    def ratio(self, path: Sequence[str]) -> Fraction | None:
        """Return the ratio of a path at its likeliest teeth; None where a wheel has no count."""
        ratio = Fraction(1)
        for ends in self.family.train.path_wheels(path):
            driver, driven = (self._box.likeliest(self.view.wheels.get(w, ())) for w in ends)
            if driver is None or driven is None:
                return None
            ratio *= Fraction(driven, driver)
        return ratio

    def log_turned(self) -> float:
        """Return the log density of all turn tests in gears that the family has."""
        found = 0.0
        for path, reading in self.view.readings:
            ratio = self.ratio(path)
            density = (
                no_ratio_density(reading) if ratio is None else reading_density(reading, ratio)
            )
            found += log(density)
        return found


def new_parts(
    ready: Prepared,
    families: Sequence[tuple[Family, FamilyView]],
    box: SeenBox,
    commonness: float,
) -> list[New]:
    """Return the new sets of families with counted sets, worked out."""
    parts = []
    for places, sets in ready.new_sets([family for family, _ in families]):
        found = [New(*families[place], box, sets, row) for row, place in enumerate(places)]
        logs = []
        for part in found:
            share = fsum(s.commonness for s in part.family.counted_sets) / commonness
            prior = log((1 - UNCATALOGUED_PRIOR) * NEW_SET * share)
            logs.append(prior + part.log_turned() + part.view.log_lacking)
        # Families of one shape have the same wheels under the same names.
        view = found[0].view
        for hand in HANDS:
            seen, scale = view.likelihoods(box, hand)
            scale += box.log_unknown_looks(hand) - view.log_lacking
            values = sets.likelihood(seen).tolist()
            for part, log_share, value in zip(found, logs, values, strict=True):
                part.scales[hand] = scale + log_share
                part.values[hand] = value
        parts += found
    return parts


class Counted(_Part):
    """The counted sets of one family."""

    def __init__(
        self,
        ready: Prepared,
        family: Family,
        box: SeenBox,
        commonness: float,
        view: FamilyView | None = None,
    ) -> None:
        super().__init__()
        self.family = family
        self.view = view_of_family(family, box) if view is None else view
        self._ready = ready
        self._box = box
        self.prior = ready.family(family)
        #: Marks and features as the family sees them; None where there are none.
        self.looks = None if box.observed is None else box.observed.of(family)
        share = (1 - UNCATALOGUED_PRIOR) * (1 - NEW_SET) / commonness
        self._base_priors = [
            share * sum(family.counted_sets[m].commonness for m in members)
            for _, members in self.prior.bases
        ]
        #: The so-far groups, found when they are needed.
        self.groups: list[tuple[tuple[str, ...], Allowed]] | None = None
        self._has_gaps = self.prior.has_gaps
        self.sums = [Sums([]), Sums([])]

    @cached_property
    def weights(self) -> list[float]:
        """The prior of each base set over its normaliser."""
        normalisers = self._ready.normalisers(self.family)
        return [p / z for p, z in zip(self._base_priors, normalisers, strict=True)]

    @cached_property
    def factors(self) -> tuple[list[Factor], ...]:
        """For each hand the factors: meshes first, then clashes, looks and turn tests."""
        return tuple([self._factors(hand) for hand in HANDS])

    @cached_property
    def configurations(self) -> tuple[Configurations, ...]:
        """All configurations, for each hand."""
        return tuple([Configurations(self.prior, factors) for factors in self.factors])

    def _likelihoods(self, hand: int) -> tuple[Likelihoods, float]:
        """What was counted, and the log of the scale of all that was seen."""
        seen, scale = self.view.likelihoods(self._box, hand)
        return seen, scale if self.looks is None else scale + self.looks.log_scale[hand]

    def quick_bound(self, hand: int) -> float:
        """A bound on the family's log share that asks every wheel by itself.

        Marks and features are at their likeliest: that is what their scale says.
        """
        seen, scale = self._likelihoods(hand)
        bound = sum(self._base_priors) / min(self.prior.least_normalisers)
        for piece in self.prior.pieces:
            listed = unlisted = 1.0
            for wheel in piece.wheels:
                if wheel in seen:
                    teeth, raised = self.prior.reach[wheel]
                    by_teeth = seen[wheel]
                    known = max([by_teeth[t] for t in teeth], default=1.0)
                    unknown = self._box.unknown(self.view.wheels[wheel], wheel, hand)
                    listed *= known
                    unlisted *= max(known, raised * unknown)
            bound *= max(listed, unlisted) if self._has_gaps else listed + UNLISTED * unlisted
        for _, reading in self.view.readings:
            scale += log(greatest_density(reading))
        return scale + log(bound) if bound > 0 else LEAST_LOG

    def log_bound(self, hand: int) -> float:
        """A bound on the family's log share: every mesh factor and test at its greatest."""
        seen, scale = self._likelihoods(hand)
        for _, reading in self.view.readings:
            scale += log(greatest_density(reading))
        likely = self._alone(seen)
        for number, tables in self.looks.values.items() if self.looks else ():
            worth = tables[hand]
            for at, state in enumerate(self.prior.states[number]):
                likely[number][at] *= worth[-1 if state.kind is None else state.kind]
        bound = 0.0
        for number, ((own, _), weight) in enumerate(
            zip(self.prior.bases, self._base_priors, strict=True)
        ):
            for piece, kind in enumerate(own):
                weights = self.prior.weights(piece, kind)
                weight *= sum(map(mul, weights, likely[piece]))
            bound += weight / self.prior.least_normalisers[number]
        return scale + log(bound) if bound > 0 else LEAST_LOG

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

    def _factors(self, hand: int) -> list[Factor]:
        """The factors from one hand; sets the scale of what is summed over them."""
        seen, scale = self._likelihoods(hand)
        factors = mesh_factors(self.prior, mesh_shapes(self.prior), seen)
        for number, tables in self.looks.values.items() if self.looks else ():
            factors.append(StateFactor(self.prior, number, tables[hand]))
        for path, reading in self.view.readings:
            factor = turn_factor(self.prior, path, reading, self.likeliest)
            if isinstance(factor, float):
                scale += log(factor)
            else:
                factors.append(factor)
        self.scales[hand] = scale
        return factors

    def likeliest(self, wheel: str) -> int | None:
        """Return the teeth that the counts of a wheel make likeliest; None if not counted."""
        return self._box.likeliest(self.view.wheels.get(wheel, ()))

    def work(self, *, with_masks: bool = True) -> None:
        """Work out the family's share, `values[hand]` · e^`scales[hand]`, and all in it.

        Without `with_masks` the answers are left out: only so-far groups are wanted.
        """
        if self.groups is None:
            self.groups = so_far_groups(self.family, self.prior, self.view, self.looks)
        allowed = [allowed for _, allowed in self.groups]
        for hand, configurations in enumerate(self.configurations):
            sums = configurations.sums(self.weights, allowed, with_masks=with_masks)
            self.sums[hand] = sums
            self.values[hand] = sum(map(mul, self.weights, sums.bases))

    def answers(self, scales: Sequence[float]) -> dict[tuple[str, ...], float]:
        """Return the matched groups by their sets, and the variants under the empty group."""
        return answer_shares(self.prior, self.sums, scales, lacks=self.view.lacks)

    def pieces(self, scaled: Sequence[float]) -> list[PieceShare]:
        """Return the share of every type of every piece, given what each hand's sums weigh."""
        tables = [each.pieces(self.weights) for each in self.configurations]
        return piece_shares(self.prior, tables, scaled)
