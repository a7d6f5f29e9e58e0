"""What explains the measurements of one wheel, by example."""

import pytest

from cogtally.gears.callipers.fit import widest_needed
from cogtally.gears.callipers.standards import find_standard
from cogtally.gears.callipers.wheel import LISTED, Gauging, gauge, partings, spannable, wheel
from cogtally.gears.errors import UserError

from .random_wheels import measured

MODULE_2 = find_standard("2")


def true_wheel(
    pitch: str, teeth: int, helix: float = 0.0, shift: float = 0.0, tooth: str = "full"
) -> dict[str, object]:
    """The measurements of a wheel without any error, spans and diameter only."""
    true = wheel(find_standard(pitch, tooth=tooth), teeth, helix, shift)
    return {
        "teeth": teeth,
        "outside": true.outside,
        "jaws": "true",
        "spans": [(s.across, s.length) for s in true.spans],
        "helix": helix,
    }


def ask(**kw: object) -> Gauging:
    return gauge(measured(**kw))


@pytest.mark.parametrize(("pitch", "teeth"), [("2", 30), ("8dp", 24), ("6/8dp", 24)])
def test_a_wheel_without_error_is_named(pitch, teeth):
    """Both spans, the diameter and straight teeth name the standard, and find no shift."""
    answer = ask(**true_wheel(pitch, teeth))
    first = answer.explanations[0]
    assert answer.named == first.standard == find_standard(pitch)
    assert answer.sentence == f"This is {answer.named.name}."
    assert first.fit.shift == pytest.approx(0, abs=1e-3)
    assert first.state == "sound"


@pytest.mark.parametrize("at", ["reference", "tip"])
def test_helix_and_shift_are_found(at):
    """A helix measured about right, or rolled off the tips, is settled to a part of a degree."""
    true = wheel(find_standard("2.5"), 28, 24.3, 0.2)
    near = {"reference": (25.0, 1.0), "tip": (true.tip_helix, 0.3)}[at]
    kw = true_wheel("2.5", 28, 24.3, 0.2) | {"helix": near[0], "helix_tolerance": near[1]}
    first = ask(**kw, helix_at=at).explanations[0]
    assert true.tip_helix > 25.5
    assert first.standard == find_standard("2.5")
    assert first.fit.helix == pytest.approx(24.3, abs=0.1)
    assert first.fit.shift == pytest.approx(0.2, abs=0.02)


def test_a_diameter_alone_names_nothing():
    """A diameter fits so many standards that none is named, and the advice is a span."""
    answer = ask(teeth=24, outside=3.25, unit="in", helix=0)
    assert answer.named is None
    assert len(answer.fitting) > 5
    assert "not settled" in answer.sentence
    assert partings(answer)[0].what.startswith("span")


def test_every_explanation_says_what_it_expects():
    """Each explanation has a prediction for each measurement, and none is off by more than said."""
    answer = ask(**true_wheel("2", 30))
    for explanation in answer.explanations:
        assert [p.what for p in explanation.predictions] == ["outside", "span 4", "span 5", "helix"]
        assert all(abs(p.off) <= LISTED * p.tolerance + 1e-9 for p in explanation.predictions)
        assert explanation.fits == all(
            abs(p.off) <= p.tolerance + 1e-9 for p in explanation.predictions
        )


@pytest.mark.parametrize(
    ("worn", "state", "said"),
    [
        ({"outside": 63.7}, "lowered tip", "turned down"),
        ({"spans": [(4, 21.3042), (5, 27.2085)]}, "thin teeth", "worn"),
    ],
)
def test_wear_is_said(worn, state, said):
    """Tips 0.3 mm lower or spans 0.2 mm short leave the truth among the answers, said to be so."""
    answer = ask(**true_wheel("2", 30) | worn)
    assert answer.named is None
    truth = next(e for e in answer.fitting if e.standard == MODULE_2)
    assert truth.state == state
    assert truth.fit.cut == pytest.approx(0.3 if state == "lowered tip" else 0, abs=0.03)
    assert said in truth.notes[0]


def test_the_depth_parts_a_turned_down_tip_from_a_stub():
    """Whether such a tip is a stub is parted by the depth of the teeth, and then named."""
    kw = true_wheel("2", 30) | {"outside": 63.7}
    advice = partings(ask(**kw))[0]
    assert advice.what == "depth"
    assert ask(**kw, depth=4.35).explanations[0].standard == MODULE_2


def test_odd_teeth_are_corrected():
    """The same wheel is found however its diameter was taken."""
    kw = true_wheel("2.5", 17, shift=0.2)
    true = wheel(find_standard("2.5"), 17, 0, 0.2)
    for jaws, reading in (("points", true.points), ("flat", true.flat), ("true", true.outside)):
        answer = ask(**kw | {"outside": reading, "jaws": jaws})
        assert answer.explanations[0].standard == find_standard("2.5")
        assert answer.explanations[0].fit.shift == pytest.approx(0.2, abs=0.02)


def test_tips_that_are_no_edges():
    """Callipers that reach further across odd teeth, because tips have a land, do not mislead."""
    kw = true_wheel("2.5", 17, shift=0.2)
    true = wheel(find_standard("2.5"), 17, 0, 0.2)
    answer = ask(**kw | {"outside": true.points + 0.08, "jaws": "points"})
    first = answer.explanations[0]
    assert first.standard == find_standard("2.5")
    assert first.state == "sound"
    assert first.fit.shift == pytest.approx(0.2, abs=0.03)


def test_a_wide_jaw_along_a_helix():
    """A wide jaw finds opposite tips further along a helix, reads true, and is understood."""
    kw = true_wheel("2.5", 17, 25.0, 0.2)
    found = [e for e in ask(**kw | {"jaws": "flat"}).fitting if e.fit.land]
    assert found[0].standard == find_standard("2.5")
    assert found[0].fit.shift == pytest.approx(0.2, abs=0.03)
    assert found[0].fit.helix == pytest.approx(25, abs=found[0].fit.helix_error)
    assert any("no edges" in note for note in found[0].notes)


def test_a_wheel_too_narrow_for_its_span():
    """A span that a helical wheel of this width cannot give is refused, with what to do."""
    kw = true_wheel("2", 30, 30.0)
    with pytest.raises(UserError, match="needs a wheel wider than 15") as error:
        ask(**kw, width=8)
    assert "no span can be taken" in error.value.mend
    with pytest.raises(UserError, match="span 5 teeth"):
        ask(**kw, width=15)
    assert ask(**kw, width=18).explanations[0].standard == MODULE_2


def test_a_width_is_a_measurement_too():
    """A wheel within its tolerance of wide enough is not called too narrow."""
    kw = true_wheel("2", 30, 30.0)
    needed = widest_needed(ask(**kw).explanations[0].fit, measured(**kw))
    assert ask(**kw, width=needed - 0.01).explanations[0].standard == MODULE_2
    with pytest.raises(UserError, match="needs a wheel wider than"):
        ask(**kw, width=needed - 0.1)


def test_how_many_teeth_to_span():
    """On a wide wheel the best k, on a narrow one fewer, on a very narrow one none."""
    fit = ask(**true_wheel("2", 40, 20.0)).explanations[0].fit
    assert [spannable(fit, width) for width in (30.0, 11.0, 3.0)] == [6, 5, None]


@pytest.mark.parametrize(
    ("slip", "said"),
    [
        ({"teeth": 31}, "with 30 teeth module 2, 20°, full teeth would fit"),
        ({"spans": [(3, 21.5042), (4, 27.4085)]}, "spans across 4 and 5 teeth"),
    ],
)
def test_a_miscount_is_named(slip, said):
    """With a tooth miscounted, of the wheel or in a span, nothing fits, and the slip is told."""
    answer = ask(**true_wheel("2", 30) | slip)
    assert answer.named is None
    assert all(e.state != "sound" for e in answer.fitting)
    assert any(said in one for one in answer.slips)


def test_wrong_jaws_are_named():
    """A diameter taken with flat jaws and written as true is named where nothing else fits."""
    kw = true_wheel("6", 9, shift=0.5)
    true = wheel(find_standard("6"), 9, 0, 0.5)
    slips = ask(**kw | {"outside": true.outside * 1.03, "jaws": "true"}).slips
    assert any("without the outside diameter" in slip or "flat" in slip for slip in slips)


def test_nothing_explains_it():
    """Measurements that no standard explains give no answer, and say so."""
    answer = ask(teeth=30, outside=64.0, spans=[(4, 21.5), (5, 30.0)], helix=0)
    assert answer.explanations == ()
    assert answer.named is None
    assert answer.sentence == "No standard here explains these measurements."
    assert partings(answer) == ()


def test_teeth_that_nobody_counted():
    """From two spans and a diameter the teeth of a broken wheel are found too."""
    kw = true_wheel("2", 30)
    del kw["teeth"]
    first = ask(**kw).explanations[0]
    assert (first.fit.teeth, first.standard) == (30, MODULE_2)


def test_the_mate_is_told():
    """A centre distance says what shift the mate would have."""
    first = ask(**true_wheel("2", 30), mate=20, centres=50.0).explanations[0]
    assert "the mate of 20 teeth would have shift -0.00" in first.notes or (
        "the mate of 20 teeth would have shift +0.00" in first.notes
    )


def test_a_centre_distance_narrows():
    """With a centre distance fewer standards fit a diameter."""
    kw = {"teeth": 24, "outside": 82.55, "helix": 0}
    with_centres = ask(**kw, mate=30, centres=85.725)
    truth = find_standard("8dp")
    assert dict(with_centres.standards)[truth] > dict(ask(**kw).standards)[truth]


def test_advice_parts_what_is_open():
    """The measurement that is advised, once taken, leaves fewer standards than before."""
    kw = {"teeth": 24, "outside": 82.55, "helix": 0}
    before = ask(**kw)
    advice = partings(before)[0]
    across = int(advice.what.split()[1])
    truth = wheel(find_standard("8dp"), 24).spans[0]
    length = next(v for e, v in advice.expected if e.standard == find_standard("8dp"))
    after = ask(**kw, spans=[(across, length)])
    assert len(after.fitting) < len(before.fitting)
    assert after.explanations[0].standard == find_standard("8dp")
    assert truth.across in (3, 4)
    assert 0 < advice.parts <= 1


def test_no_wheel_is_named_by_wear_alone():
    """Where one standard fits only with lowered tips, it is not named, and that is said."""
    kw = true_wheel("2", 30) | {"outside": 63.4, "depth": 4.2}
    answer = ask(**kw)
    assert answer.named is None
    only = "Only module 2, 20°, full teeth fits, and only so (lowered tip): not settled."
    assert answer.sentence == only
