"""What explains the measurements of one wheel, by example."""

from fractions import Fraction

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


def test_a_plain_wheel_is_named():
    """Both spans, the diameter and straight teeth name module 2, and find no shift."""
    answer = ask(**true_wheel("2", 30))
    assert answer.named == MODULE_2
    assert answer.sentence == "This is module 2, 20°, full teeth."
    assert answer.explanations[0].fit.shift == pytest.approx(0, abs=1e-3)
    assert answer.explanations[0].state == "sound"


def test_a_diametral_pitch_is_named_in_inches():
    """The same in inches for 8 DP."""
    true = wheel(find_standard("8dp"), 24)
    spans = [(s.across, s.length / 25.4) for s in true.spans]
    answer = ask(teeth=24, outside=3.25, spans=spans, helix=0, unit="in", tolerance=0.001)
    assert answer.named == find_standard("8dp")


def test_a_stub_of_two_pitches():
    """6/8 DP is told from full and plain stub teeth of 6 DP."""
    answer = ask(**true_wheel("6/8dp", 24))
    assert answer.named.tooth == "6/8"


def test_helix_and_shift_are_found():
    """A helix measured within a degree is settled to a part of one, with the shift."""
    kw = true_wheel("2.5", 28, 24.3, 0.2) | {"helix": 25.0}
    fit = ask(**kw).explanations[0].fit
    assert fit.standard == find_standard("2.5")
    assert fit.helix == pytest.approx(24.3, abs=0.1)
    assert fit.shift == pytest.approx(0.2, abs=0.02)


def test_a_helix_read_at_the_tip():
    """A helix rolled off the tips is brought to the reference circle."""
    true = wheel(find_standard("2.5"), 28, 24.3, 0.2)
    kw = true_wheel("2.5", 28, 24.3, 0.2) | {"helix": true.tip_helix, "helix_at": "tip"}
    answer = ask(**kw, helix_tolerance=0.3)
    assert true.tip_helix > 25.5
    assert answer.explanations[0].fit.helix == pytest.approx(24.3, abs=0.1)


def test_a_diameter_alone_names_nothing():
    """A diameter fits so many standards that none is named, and the advice is a span."""
    answer = ask(teeth=24, outside=3.25, unit="in", helix=0)
    assert answer.named is None
    assert len(answer.fitting) > 5
    assert "not settled" in answer.sentence
    advice = partings(answer)[0]
    assert advice.what.startswith("span")
    assert advice.sentence.startswith("measure the span across")


def test_shares_add_up():
    """Shares of explanations and of standards add up to one, and fall."""
    answer = ask(teeth=24, outside=82.55, helix=0)
    shares = [e.share for e in answer.explanations]
    assert sum(shares) == pytest.approx(1)
    assert shares == sorted(shares, reverse=True)
    assert sum(share for _, share in answer.standards) == pytest.approx(1)


def test_every_explanation_says_what_it_expects():
    """Each explanation has a prediction for each measurement, and none is off by more than said."""
    answer = ask(**true_wheel("2", 30))
    for explanation in answer.explanations:
        assert [p.what for p in explanation.predictions] == ["outside", "span 4", "span 5", "helix"]
        assert all(abs(p.off) <= LISTED * p.tolerance + 1e-9 for p in explanation.predictions)
        assert explanation.fits == all(
            abs(p.off) <= p.tolerance + 1e-9 for p in explanation.predictions
        )


def test_a_tip_turned_down_is_said():
    """Tips turned down by 0.3 mm leave the truth among the answers, said, and nothing named."""
    kw = true_wheel("2", 30)
    answer = ask(**kw | {"outside": 63.7})
    assert answer.named is None
    truth = next(e for e in answer.fitting if e.standard == MODULE_2)
    assert truth.state == "lowered tip"
    assert truth.fit.cut == pytest.approx(0.3, abs=0.03)
    assert "turned down" in truth.notes[0]


def test_the_depth_parts_a_turned_down_tip_from_a_stub():
    """Whether such a tip is a stub is parted by the depth of the teeth, and then named."""
    kw = true_wheel("2", 30) | {"outside": 63.7}
    advice = partings(ask(**kw))[0]
    assert advice.what == "depth"
    assert ask(**kw, depth=4.35).explanations[0].standard == MODULE_2


def test_worn_teeth_are_said():
    """Spans 0.2 mm short of the standard hold, as thin teeth."""
    kw = true_wheel("2", 30)
    thin = [(k, length - 0.2) for k, length in kw["spans"]]
    answer = ask(**kw | {"spans": thin})
    truth = next(e for e in answer.fitting if e.standard == MODULE_2)
    assert truth.state == "thin teeth"
    assert "worn" in truth.notes[0]


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


def test_a_miscount_is_named():
    """With a tooth miscounted nothing fits soundly, and one tooth fewer is the likely slip."""
    answer = ask(**true_wheel("2", 30) | {"teeth": 31})
    assert answer.named is None
    assert all(e.state != "sound" for e in answer.fitting)
    assert "with 30 teeth module 2, 20°, full teeth would fit" in answer.slips


def test_a_miscounted_span_is_named():
    """Jaws across one tooth more than written are named as the likely slip."""
    true = true_wheel("2", 30)
    moved = [(k - 1, length) for k, length in true["spans"]]
    answer = ask(**true | {"spans": moved})
    assert any("spans across 4 and 5 teeth" in slip for slip in answer.slips)


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


def test_a_standard_is_exact():
    """Pitches are kept exact: 8 DP is a module of 127/40 mm."""
    assert find_standard("8dp").pitch.module == Fraction(127, 40)


def test_no_wheel_is_named_by_wear_alone():
    """Where one standard fits only with lowered tips, it is not named, and that is said."""
    kw = true_wheel("2", 30) | {"outside": 63.4, "depth": 4.2}
    answer = ask(**kw)
    assert answer.named is None
    only = "Only module 2, 20°, full teeth fits, and only so (lowered tip): not settled."
    assert answer.sentence == only
