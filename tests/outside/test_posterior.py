"""The posterior beside general-purpose exact inference.

Source: pyAgrum 3.3.1, a general-purpose library of graphical models (exact inference by lazy
propagation); scikit-learn and scipy for the calibration table and its tests.
"""

from collections.abc import Collection, Sequence

import numpy as np
import pytest

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.engine import posterior
from cogtally.evidence.laws import (
    FOREIGN,
    HAND_PRIOR,
    OWN,
    Q_OF_HAND,
    UNCATALOGUED_PRIOR,
    UNLISTED,
    count_law,
)
from cogtally.evidence.rho import Rho
from cogtally.gears.notation import parse_seen

gum = pytest.importorskip("pyagrum")

TEETH = range(5, 100)


def excluding(rho: Sequence[float], excluded: Collection[int]) -> list[float]:
    """Return ρ of teeth 5…99 without the excluded ones, renormalised."""
    left = [0.0 if teeth in excluded else value for teeth, value in zip(TEETH, rho, strict=True)]
    total = sum(left)
    return [value / total for value in left] if total > 0 else left


def test_the_worked_case():
    """Three sets, each count right with .96 and one off with .02 either way; seen 31 and 27.

    pyAgrum and hand arithmetic: A 0.979591836735, B 0.012244897959, C 0.008163265306.
    """
    sets = {"A": (31, 27), "B": (32, 27), "C": (31, 26)}
    prior = {"A": 0.5, "B": 0.3, "C": 0.2}
    law = {0: 0.96, 1: 0.02}
    weights = {
        name: prior[name] * law.get(abs(a - 31), 0) * law.get(abs(b - 27), 0)
        for name, (a, b) in sets.items()
    }
    net = gum.BayesNet("worked")
    box = net.add(gum.LabelizedVariable("box", "", list(sets)))
    net.cpt(box)[:] = list(prior.values())
    for place in (0, 1):
        seen = net.add(gum.LabelizedVariable(f"seen{place}", "", ["as-counted", "else"]))
        net.addArc(box, seen)
        for row, teeth in enumerate(sets.values()):
            chance = law.get(abs(teeth[place] - (31, 27)[place]), 0)
            net.cpt(seen)[{"box": row}] = [chance, 1 - chance]
    inference = gum.LazyPropagation(net)
    inference.setEvidence({"seen0": "as-counted", "seen1": "as-counted"})
    inference.makeInference()
    total = sum(weights.values())
    for row, (name, printed) in enumerate(
        {"A": 0.979591836735, "B": 0.012244897959, "C": 0.008163265306}.items()
    ):
        assert inference.posterior("box")[row] == pytest.approx(printed, abs=1e-12)
        assert weights[name] / total == pytest.approx(printed, abs=1e-12)


SMALL = Family(
    id="small",
    layout="two-shaft",
    sets=(
        RatioSet("a", pairs={"1": (14, 31), "2": (20, 25)}, commonness=3),
        RatioSet("b", pairs={"1": (15, 30), "2": (20, 25)}, commonness=2),
        RatioSet("c", pairs={"1": (14, 31), "2": (22, 23)}),
    ),
)
SUM = 45
FACTORS = {0: 1.0, 1: 0.3, 2: 0.03}
#: Piece (a wheel of its own here) to the teeth of each set.
WHEELS = {
    "1.driver": (14, 15, 14),
    "1.driven": (31, 30, 31),
    "2.driver": (20, 20, 22),
    "2.driven": (25, 25, 23),
}
COMMON = (3.0, 2.0, 1.0)


def states(wheel: str) -> list[int | str]:
    return [*dict.fromkeys(WHEELS[wheel]), "other"]


def prior_row(wheel: str, base: int) -> list[float]:
    listed = list(dict.fromkeys(WHEELS[wheel]))
    weight = {
        t: sum(c for c, other in zip(COMMON, WHEELS[wheel], strict=True) if other == t)
        for t in listed
    }
    own = WHEELS[wheel][base]
    rest = sum(w for t, w in weight.items() if t != own)
    row = [OWN if t == own else FOREIGN * weight[t] / rest for t in listed]
    return [*row, UNLISTED]


def network(words: Sequence[tuple[str, int]], hand: int, catalog: Catalog) -> dict[str, float]:
    """P(base set, matched or not, counts | hand) by pyAgrum; meshes are evidence."""
    rho = Rho(catalog)
    found: dict[str, float] = {}
    for base in range(3):
        weights = {}
        for counted in (False, True):
            net = gum.BayesNet()
            teeth_of: dict[str, list[int]] = {}
            for wheel in WHEELS:
                listed = [t for t in states(wheel) if isinstance(t, int)]
                values = [*listed, *(t for t in TEETH if t not in listed)]
                teeth_of[wheel] = values
                name = wheel.replace(".", "_")
                net.add(gum.LabelizedVariable(name, "", [str(v) for v in values]))
                row = prior_row(wheel, base)
                spread = excluding(rho.of(wheel), listed)
                rest = [row[-1] * spread[t - TEETH[0]] for t in values[len(listed) :]]
                net.cpt(name)[:] = [*row[:-1], *rest]
            evidence = []
            for pair in ("1", "2"):
                left, right = f"{pair}.driver", f"{pair}.driven"
                node = net.add(gum.LabelizedVariable(f"mesh{pair}", "", ["runs", "not"]))
                net.addArc(left.replace(".", "_"), f"mesh{pair}")
                net.addArc(right.replace(".", "_"), f"mesh{pair}")
                off = abs(np.add.outer(teeth_of[left], teeth_of[right]) - SUM)
                runs = np.vectorize(lambda teeth: FACTORS.get(int(teeth), 0.001))(off)
                # A table of pyAgrum has its variables in the opposite order: right, left, mesh.
                net.cpt(node)[:] = np.ascontiguousarray(np.stack([runs.T, 1 - runs.T], -1))
                evidence.append(f"mesh{pair}")
            if counted:
                for number, (wheel, count) in enumerate(words):
                    name = f"count{number}"
                    net.add(gum.LabelizedVariable(name, "", ["so", "else"]))
                    net.addArc(wheel.replace(".", "_"), name)
                    for i, teeth in enumerate(teeth_of[wheel]):
                        chance = count_law(abs(teeth - count), Q_OF_HAND[hand])
                        net.cpt(name)[{wheel.replace(".", "_"): i}] = [chance, 1 - chance]
                    evidence.append(name)
            inference = gum.LazyPropagation(net)
            inference.setEvidence(dict.fromkeys(evidence, 0))
            inference.makeInference()
            weights[counted] = inference.evidenceProbability()
        prior = (1 - UNCATALOGUED_PRIOR) * COMMON[base] / sum(COMMON)
        found[SMALL.sets[base].id] = prior * weights[True] / weights[False]
    return found


def new_set(words: Sequence[tuple[str, int]], hand: int, rho: Rho) -> float:
    """P(a set that the catalog lacks, counts | hand), each pair summed over all its teeth."""
    found = (1 - UNCATALOGUED_PRIOR) * 0.04
    counts = dict(words)

    def base(wheel: str, teeth: int) -> float:
        listed = sum(c for c, t in zip(COMMON, WHEELS[wheel], strict=True) if t == teeth)
        return 0.25 * listed / sum(COMMON) + 0.75 * rho.of(wheel)[teeth - TEETH[0]]

    def likelihood(wheel: str, teeth: int) -> float:
        return count_law(abs(teeth - counts[wheel]), Q_OF_HAND[hand])

    for a, b in (("1.driver", "1.driven"), ("2.driver", "2.driven")):
        whole = seen = 0.0
        for left in TEETH:
            for right in TEETH:
                factor = {0: 1.0, 1: 0.03, 2: 0.003}.get(abs(left + right - SUM), 0.001)
                weight = base(a, left) * base(b, right) * factor
                whole += weight
                seen += weight * likelihood(a, left) * likelihood(b, right)
        found *= seen / whole
    return found


def test_a_family_as_a_network():
    """The evidence of a small family, base by base and hand by hand, is pyAgrum's to 1e-9."""
    catalog = Catalog((SMALL,))
    words = [("1.driver", 14), ("1.driven", 32), ("2.driver", 20), ("2.driven", 25)]
    rho = Rho(catalog)
    total = unknown = 0.0
    for hand, chance in enumerate(HAND_PRIOR):
        total += chance * 0.96 * sum(network(words, hand, catalog).values())
        total += chance * new_set(words, hand, rho)
        nowhere = UNCATALOGUED_PRIOR
        for wheel, count in words:
            nowhere *= sum(
                p * count_law(abs(t - count), Q_OF_HAND[hand])
                for t, p in zip(TEETH, rho.of(wheel), strict=True)
            )
        unknown += chance * nowhere
    found = posterior(catalog, parse_seen([f"{wheel}={count}" for wheel, count in words]))
    assert found.of_kind("uncatalogued") == pytest.approx(unknown / (unknown + total), abs=1e-9)
    assert found.families["small"] == pytest.approx(total / (unknown + total), abs=1e-9)
