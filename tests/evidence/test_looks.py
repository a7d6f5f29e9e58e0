"""The laws of marks and features, and what they do to an answer."""

import string
from dataclasses import replace
from itertools import product
from math import exp, log, pi, sqrt

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.files.reading import demo_catalog, load_catalog
from cogtally.catalog.model import Catalog
from cogtally.evidence.advice import advise
from cogtally.evidence.laws import (
    HASTY,
    STEADY,
    Helix,
    clashes,
    count_law,
    edits,
    legible,
    log_feature,
    log_mark,
    log_unknown_mark,
    size_density,
    worn_density,
)
from cogtally.evidence.loose import identify_piece
from cogtally.evidence.posterior import MATCHED
from cogtally.evidence.reading import identify
from cogtally.gears.errors import UserError
from cogtally.gears.looks import mark_key, parse_feature, parse_mark, parse_piece, with_looks
from cogtally.gears.notation import parse_seen

WILLOW = ["input=19/29", "1=15/33", "2=20/28", "3=25/23", "R=13/18/31"]
CLOSE = 1e-12


@pytest.fixture(scope="module")
def demo() -> Catalog:
    return demo_catalog()


def reading(text: str) -> str:
    return parse_mark(text, loose=True).reading


def bits(text: str, mark: str) -> float:
    """How much a reading speaks for a mark, against a piece without a known one."""
    return (log_mark(reading(text), [mark]) - log_unknown_mark(reading(text))) / log(2)


# Marks


def test_the_law_of_a_mark():
    """A whole reading with one wrong character has the likelihood that the page gives."""
    expected = 0.95 * 0.92**5 * (0.08 / 36) + 0.05 * 36.0**-6
    assert exp(log_mark("lg3202", ["LG 3102"])) == pytest.approx(expected, rel=CLOSE)


def test_more_edits_than_characters_count_no_more():
    """e' is at most n: a reading of one wrong character has one edit, however long the mark."""
    expected = 0.95 * (0.08 / 36) + 0.05 / 36
    assert exp(log_mark("x", ["LG 3102"])) == pytest.approx(expected, rel=CLOSE)


def test_what_speaks_for_a_mark():
    """`*02` speaks for LG 3102, `LG3?02` strongly, a wrong character less, nothing read nothing."""
    assert 5 < bits("*02", "LG 3102") < bits("LG3?02", "LG 3102")
    assert bits("LG3?02", "LG 3102") > 20
    assert 0 < bits("LG4?02", "LG 3102") < bits("LG3?02", "LG 3102") - 5
    for nothing in ("*", "?", "???", "?*"):
        assert bits(nothing, "LG 3102") == pytest.approx(0, abs=1e-9)


def test_the_best_of_several_marks_counts():
    """A type with several marks is judged by the one that fits best."""
    assert log_mark("w121", ["LG 3102", "W 121"]) == log_mark("w121", ["W 121"])


def test_case_spaces_and_punctuation_do_not_matter():
    """A mark is its letters and digits, whatever their form."""
    assert reading("lg-31 02") == reading("LG3102") == mark_key("L.G. 3102")
    assert mark_key("ＬＧ３１０２") == "lg3102"


def _brute(seen: str, mark: str) -> int:
    """The fewest edits by trying out every run that `*` can stand for."""
    parts = seen.split("*")
    if len(parts) == 1:
        return _plain(seen, mark)
    best = None
    cuts = range(len(mark) + 1)
    for ends in product(cuts, repeat=2 * (len(parts) - 1)):
        if list(ends) != sorted(ends):
            continue
        pieces = [mark[: ends[0]]]
        pieces += [mark[ends[i] : ends[i + 1]] for i in range(1, len(ends) - 1, 2)]
        pieces.append(mark[ends[-1] :])
        cost = sum(_plain(a, b) for a, b in zip(parts, pieces, strict=True))
        best = cost if best is None else min(best, cost)
    assert best is not None
    return best


def _plain(seen: str, mark: str) -> int:
    if not seen or not mark:
        return len(seen) + len(mark)
    same = seen[0] in ("?", mark[0])
    return min(
        _plain(seen[1:], mark[1:]) + (not same),
        _plain(seen[1:], mark) + 1,
        _plain(seen, mark[1:]) + 1,
    )


@given(st.text("ab?*", max_size=5), st.text("abc", max_size=4))
def test_edits_are_the_fewest(seen, mark):
    """The alignment finds no more and no fewer edits than trying everything."""
    assert edits(seen, mark) == _brute(seen, mark)


@given(st.text(string.ascii_lowercase + string.digits, min_size=1, max_size=12))
def test_a_mark_fits_itself(mark):
    """A mark read in full needs no edit, nor with any one character unread or all lost."""
    assert edits(mark, mark) == 0
    assert all(edits(f"{mark[:i]}?{mark[i + 1 :]}", mark) == 0 for i in range(len(mark)))
    assert edits("*", mark) == 0
    assert legible(f"*{mark}?") == len(mark)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no letter or digit"),
        ("---", "no letter or digit"),
        ("A" * 200, "200 letters and digits"),
        ("A" * 201, "201 characters"),
    ],
)
def test_marks_that_are_refused(text, says):
    """An empty mark, or one longer than any, is refused in one line."""
    with pytest.raises(UserError, match=says) as error:
        parse_mark(text, loose=True)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("text", ["Ж 17", "歯車 3?", "[/b]17", ".*+(17", "\\d{3}", "١٢٣"])
def test_marks_in_any_script(text, demo):
    """Other scripts, regular expressions and markup are letters like any others."""
    seen = with_looks(parse_piece(["19"]), [text], [])
    assert 0 < identify_piece(demo, seen).posterior.uncatalogued < 1


# Features


def test_kinds():
    """The right kind has 0.98, the other three of a helix share the rest."""
    seen = parse_feature("3.driver.hand=left")
    assert exp(log_feature(seen, "left", STEADY)) == pytest.approx(0.98, rel=CLOSE)
    assert exp(log_feature(seen, "double", STEADY)) == pytest.approx(0.02 / 3, rel=CLOSE)


def test_counted_features_follow_the_law_of_teeth():
    """Splines are counted like teeth: by hand, unsure, and several times."""
    seen = parse_feature("laygear.splines=10x2")
    for hand, q in ((STEADY, 0.01), (HASTY, 0.06)):
        assert log_feature(seen, 11, hand) == pytest.approx(2 * log(count_law(1, q)), rel=CLOSE)
    unsure = parse_feature("laygear.splines=10u")
    assert log_feature(unsure, 11, STEADY) == pytest.approx(log(count_law(1, 0.2)), rel=CLOSE)


def test_sizes():
    """A bore is normal about its value, with a slip over half to twice the value."""
    at = 0.995 / (0.05 * sqrt(2 * pi)) + 0.005 / (1.5 * 20)
    assert size_density("bore_mm", 20.0, 20.0) == pytest.approx(at, rel=CLOSE)
    assert size_density("bore_mm", 30.0, 20.0) == pytest.approx(0.005 / 30, rel=CLOSE)
    assert size_density("bore_mm", 41.0, 20.0) == pytest.approx(0.001 * 0.005 / 30, rel=CLOSE)
    wide = 0.995 / (0.2 * sqrt(2 * pi)) + 0.005 / 150
    assert size_density("length_mm", 100.0, 100.0) == pytest.approx(wide, rel=CLOSE)
    half = 0.995 / (0.5 * sqrt(2 * pi)) + 0.005 / (1.5 * 22)
    assert size_density("helix_deg", 22.0, 22.0) == pytest.approx(half, rel=CLOSE)


def _normal(off: float, sd: float) -> float:
    return exp(-off * off / (2 * sd * sd)) / (sd * sqrt(2 * pi))


@pytest.mark.parametrize("off", [-1.0, -0.5, -0.2, -0.05, 0.0, 0.1, 0.3])
def test_wear_is_the_convolution(off):
    """The closed formula of a worn diameter is the integral over all wear, by Simpson."""
    sd, steps, far = 0.06, 20_000, 2.0
    width = far / steps
    total = 0.0
    for i in range(steps + 1):
        worn = i * width
        weight = 1 if i in (0, steps) else 4 if i % 2 else 2
        total += weight * 2 * _normal(worn, 0.2) * _normal(off + worn, sd)
    assert worn_density(off, sd) == pytest.approx(total * width / 3, rel=1e-9)


def test_a_diameter_reads_low_rather_than_high():
    """0.2 mm below the value is far likelier than 0.2 mm above it."""
    low, high = (size_density("od_mm", 20 + off, 20.0) for off in (-0.2, 0.2))
    assert low > 20 * high


@pytest.mark.parametrize(
    ("left", "right", "cannot"),
    [
        (Helix("left"), Helix("right"), False),
        (Helix("left"), Helix("left"), True),
        (Helix("straight"), Helix("left"), True),
        (Helix("straight"), Helix("straight"), False),
        (Helix("double"), Helix("double"), False),
        (Helix("left", 22.0), Helix("right", 23.0), False),
        (Helix("left", 22.0), Helix("right", 23.1), True),
        (Helix("straight"), Helix(None, 20.0), True),
        (Helix("left"), Helix(), False),
    ],
)
def test_helices_that_cannot_run(left, right, cannot):
    """Opposite hands of like angles run together, either way round; what is unknown runs."""
    assert clashes(left, right) is clashes(right, left) is cannot


# Answers


def shares(
    catalog: Catalog, words: list[str], marks: list[str], features: list[str]
) -> list[float]:
    found = identify(catalog, with_looks(parse_seen(words), marks, features)).posterior
    return [*(a.probability for a in sorted(found.answers, key=lambda a: (a.kind, a.sets)))]


@pytest.mark.parametrize(
    ("marks", "features", "which"),
    [
        (["input-shaft:W 1?4"], [], "ten-spline"),
        (["input-shaft:W*1"], [], "twenty-three-spline"),
        ([], ["input-shaft.splines=23"], "twenty-three-spline"),
        ([], ["2.driver.hand=right", "2.driven.hand=left", "input-shaft.hand=left"], "other-hand"),
    ],
)
def test_twins_are_parted(demo, marks, features, which):
    """Three sets alike in every tooth are told by half a mark, a count of splines, or a hand."""
    answer = identify(demo, with_looks(parse_seen(WILLOW), marks, features))
    assert answer.verdict.sets == (which,)
    assert answer.verdict.probability >= 0.90


def test_what_the_catalog_does_not_know_changes_nothing(demo):
    """A feature that the catalog knows of no piece changes no probability, of a box or a piece."""
    words = ["input=19/29", "2=20/_"]
    plain = shares(demo, words, [], [])
    for feature in ("laygear.bolts=6", "input-shaft.length_mm=181.5", "2-gear.dog_teeth=30"):
        assert shares(demo, words, [], [feature]) == pytest.approx(plain, abs=CLOSE)
    seen = parse_piece(["25", "20", ".."])
    before = identify_piece(demo, seen).posterior
    after = identify_piece(demo, with_looks(seen, [], ["bolts=6"])).posterior
    assert after.uncatalogued == pytest.approx(before.uncatalogued, abs=CLOSE)
    assert [a.probability for a in after.answers()] == pytest.approx(
        [a.probability for a in before.answers()], abs=CLOSE
    )


def test_an_unknown_value_leaves_the_order(demo):
    """Sets of which a feature is not known keep their odds against each other."""
    words = ["R=13/18/31"]

    def odds(features: list[str]) -> dict[tuple[str, ...], float]:
        found = identify(demo, with_looks(parse_seen(words), [], features)).posterior
        return {(a.family, *a.sets): a.probability for a in found.answers if a.kind == MATCHED}

    before, after = odds([]), odds(["laygear.bore_mm=19.05"])
    known = {
        f.id
        for f in demo.families
        if any("bore_mm" in g for k in f.types.get("laygear", ()) for _, g, _ in k.features)
    }
    unknown = [key for key in before if key[0] not in known]
    rates = [after[key] / before[key] for key in unknown if before[key] > 1e-30]
    assert len(rates) > 1
    assert rates == pytest.approx([rates[0]] * len(rates), rel=1e-9)


def test_the_account_has_a_row_for_each_look(demo):
    """Marks and features come after the words, and the rows add up to the odds."""
    seen = with_looks(parse_seen(WILLOW), ["input-shaft:W 1?4"], ["input-shaft.splines=10"])
    account = identify(demo, seen, why=True).account
    assert account is not None
    rows = [row.seen for row in account.rows]
    assert rows[-2:] == ["input-shaft:W 1?4", "input-shaft.splines=10"]
    ratio = account.headline.probability / account.rival.probability
    assert sum(row.bits for row in account.rows) == pytest.approx(log(ratio) / log(2), abs=1e-9)


def test_the_worth_of_a_kind_is_the_expected_fall(demo):
    """What a look at a hand is worth is the entropy before less the mean entropy after it."""
    seen = parse_seen(WILLOW)

    def entropy(found: list[float]) -> float:
        return -sum(p * log(p, 2) for p in found if p > 0)

    def posterior(features: list[str]) -> tuple[list[float], float]:
        found = identify(demo, with_looks(seen, [], features)).posterior
        return [a.probability for a in found.answers], found.log_evidence

    plain, nothing = posterior([])
    expected = entropy(plain)
    for hand in ("left", "right", "straight", "double"):
        after, evidence = posterior([f"2.driver.hand={hand}"])
        expected -= exp(evidence - nothing) * entropy(after)
    looks = {(look.owner, look.feature): look.bits for look in advise(demo, seen).looks}
    assert looks["2.driver", "hand"] == pytest.approx(expected, abs=1e-6)


def test_wheels_that_cannot_run_are_flagged(demo):
    """Two wheels seen with the same hand in mesh are named in their line."""
    features = ["2.driver.hand=right", "2.driven.hand=right"]
    answer = identify(demo, with_looks(parse_seen(WILLOW), [], features))
    flagged = {line.name: line.clashing for line in answer.lines}
    assert flagged["2"] == (("2.driver", "2.driven"),)
    assert not any(pairs for name, pairs in flagged.items() if name != "2")


def test_a_clash_is_a_thousandth(tmp_path):
    """Of two sets whose hands are opposite, a mixture that cannot run is rarer by 0.001."""
    text = """
[family]
id = "ash-1"
layout = "two-shaft"
[[set]]
id = "a"
source = "invented"
pairs = { 1 = "20/30" }
features = { "1.driver" = { hand = "left" }, "1.driven" = { hand = "right" } }
[[set]]
id = "b"
source = "invented"
pairs = { 1 = "20/30" }
features = { "1.driver" = { hand = "right" }, "1.driven" = { hand = "HAND" } }
"""
    (tmp_path / "ash.toml").write_text(text.replace("HAND", "left"), encoding="utf-8")
    clashing = load_catalog(tmp_path)
    (tmp_path / "ash.toml").write_text(text.replace("HAND", "double"), encoding="utf-8")
    seen = parse_seen(["1=20/30"])
    own = next(a for a in identify(clashing, seen).posterior.answers if a.kind == "mixed")
    listed = 2 * 0.024 * 0.97 * 0.001
    whole = 0.97**2 + listed + 2 * 0.006 * (0.97 + 0.024)
    assert own.probability < 3 * listed / whole


def test_a_loose_piece_follows_the_way_round(demo):
    """A hand at a place counts for the wheel that the place is, from either end."""
    counts = ["29", "25", "20", "15", "13"]
    there = with_looks(parse_piece(counts), [], ["2.hand=right"])
    back = with_looks(parse_piece(counts[::-1]), [], ["4.hand=right"])
    first, second = (identify_piece(demo, seen).posterior for seen in (there, back))
    assert [a.probability for a in first.answers()] == pytest.approx(
        [a.probability for a in second.answers()], abs=CLOSE
    )
    assert first.answers()[0].sets == ("other-hand",)


def test_looks_do_not_depend_on_their_order(demo):
    """The order in which marks and features are written changes no probability."""
    marks, features = (
        ["input-shaft:W*", "laygear:W 2?5"],
        ["2.driver.hand=left", "R.driver.hand=left"],
    )
    seen = with_looks(parse_seen(WILLOW[:2]), marks, features)
    turned = replace(seen, marks=seen.marks[::-1], features=seen.features[::-1])
    first, second = identify(demo, seen).posterior, identify(demo, turned).posterior
    assert [a.probability for a in first.answers] == pytest.approx(
        [a.probability for a in second.answers], abs=CLOSE
    )
