"""What stands around each factor of a family, worked out in arrays and without them."""

from __future__ import annotations

import sys
from collections.abc import Mapping

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.evidence import contexts_arrays
from cogtally.evidence.configurations import Configurations
from cogtally.evidence.contexts import contexts
from cogtally.evidence.factors import FlatFactor, path_shape
from cogtally.evidence.parts import Counted
from cogtally.evidence.weighed import weigh
from cogtally.gears.notation import parse_seen

CLOSE = 1e-12


def without_numpy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let it look as if numpy had not been loaded."""
    known: Mapping[str, object] = {name: m for name, m in sys.modules.items() if name != "numpy"}
    monkeypatch.setattr("cogtally.evidence.contexts.modules", known)


@pytest.mark.parametrize(
    "words", ["", "input=17/28 1=14/31u", "1@4:1.1 2=19/26", "input=17/28 5=20/20 R=12/20/28"]
)
def test_arrays_give_the_same(words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """All that a factor can see has the same weights around it, to 1e-12 of all of them."""
    without_numpy(monkeypatch)
    seen = parse_seen(words.split())
    catalog = demo_catalog()
    worked = [part for f in catalog.families for part in weigh(catalog, seen, f.id).worked]
    counted = [part for part in worked if isinstance(part, Counted)]
    assert len(counted) > 5
    for part in counted:
        train = part.family.train
        path = next(path for gear in train.gears if (path := train.path(gear)))
        flat = FlatFactor(*path_shape(part.prior, path, part.likeliest))
        configurations = Configurations(part.prior, [*part.factors[0], flat])
        wanted = [*part.factors[0][: len(part.prior.components)], flat]
        asked = (configurations, part.weights, wanted, part.view.lacks)
        plain, arrays = contexts(*asked), contexts_arrays.contexts(*asked)
        whole = sum(map(sum, plain[-1].values()))
        for expected, found in zip(plain, arrays, strict=True):
            assert found.keys() == expected.keys()
            for local, vector in expected.items():
                assert found[local] == pytest.approx(vector, abs=CLOSE * max(whole, sum(vector)))
