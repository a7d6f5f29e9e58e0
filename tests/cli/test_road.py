"""`cogtally road` as a person runs it: screens, JSON, notes and refusals."""

import json
from fractions import Fraction

import pytest
from tests.cli.terminal import Terminal

RATIOS = ("3.65", "2.25", "1.44", "1", "R=3.84")
COUNTS = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28", "--direct", "4")
BEHIND = ("--axle", "9/41", "--tyre", "165/80R15")
ASKED = ("--band", "2200-4800", "--speed", "80", "--rpm", "3000")

SCREENS = {
    "ratios": (*RATIOS, *BEHIND),
    "counts": (*COUNTS, *BEHIND, *ASKED, "--chart", "screen"),
    "overdrive": (
        *(*RATIOS, *BEHIND, "--overdrive", "24/84", "--overdriven", "3,4"),
        *("--band", "2000-4500", "--units", "mph", "--chart", "screen"),
    ),
    "two-sets": (
        *("--demo", "--set", "alder-4/wide", "--set", "alder-4/close", "--axle", "9/41"),
        *("--tyre", "5.60-15", "--band", "3000-4600", "--speed", "70"),
    ),
    "two-axles": (
        *("--demo", "--set", "alder-4/wide", "--axle", "9/41", "--axle", "pellgate-axle/11-48"),
        *("--tyre", "1960mm", "--speed", "50mph"),
    ),
    "six-cars": (
        *("--demo", "--set", "alder-4/wide", "--set", "elder-5/export", "--set"),
        *("hazel-5/brochure-1", "--axle", "9/41", "--axle", "3.9", "--tyre", "830/mile"),
        *("--band", "2500-4000", "--rpm", "1000", "--rpm", "2000", "--chart", "screen"),
    ),
    "own-axle": ("--demo", "--set", "hazel-5/brochure-1", "--tyre", "165R13"),
    "not-all-counted": ("input=17/28", "1=14/31", "2=19/_", "3=24/21", *BEHIND, "--rpm", "2000"),
}


@pytest.mark.parametrize(("option", "drawn"), [((), True), (("--chart", "none"), False)])
def test_the_chart_on_a_terminal(option, drawn):
    """A terminal of 60 columns gets the chart unless it is told not to."""
    terminal = Terminal("road", *RATIOS, *BEHIND, *ASKED, *option, columns=60, env={})
    assert terminal.close() == 0
    assert ("4800 |" in terminal.text) == drawn
    assert max(map(len, terminal.text.splitlines())) <= 60


def test_counts_and_their_ratios_drive_alike(cogtally):
    """A set of the catalog is the box that its counts describe."""
    counted = json.loads(cogtally("road", *COUNTS, *BEHIND, *ASKED, "--json").out)
    listed = json.loads(
        cogtally("road", "--demo", "--set", "alder-4/wide", *BEHIND, *ASKED, "--json").out
    )
    assert counted["cars"][0]["gears"] == listed["cars"][0]["gears"]
    assert counted["cars"][0]["changes"] == listed["cars"][0]["changes"]
    assert "catalog" not in counted
    assert listed["catalog"]["demo"] is True


def test_json_has_the_promised_keys(cogtally):
    """Format 1: exact ratios as text, speeds in full precision, the rule of the tyre named."""
    ran = cogtally("road", *COUNTS, "--axle", "9/41", "--tyre", "2000mm", *ASKED, "--json")
    document = json.loads(ran.out)
    assert (ran.code, ran.err) == (0, "")
    assert (document["format"], document["units"]) == (1, "km/h")
    assert document["band"] == {"low": 2200, "high": 4800}
    (car,) = document["cars"]
    assert car["axle"] == {"text": "9/41", "ratio": "41/9", "decimal": 41 / 9}
    assert car["tyre"]["rolled_mm"] == 2000
    assert car["tyre"]["rule"] is car["tyre"]["tolerance"] is None
    top = next(gear for gear in car["gears"] if gear["gear"] == "4")
    per_1000 = 1000 * 60 * 2000 / (41 / 9) / 1e6
    assert (top["ratio"], top["overall"], top["step_from"]) == ("1", "41/9", "3")
    assert top["step"] == str(Fraction(28 * 21, 17 * 24))
    assert top["speed_per_1000_rpm"] == pytest.approx(per_1000)
    assert top["at_rpm"] == [{"rpm": 3000, "speed": pytest.approx(3 * per_1000)}]
    assert top["band"] == {
        "slowest": pytest.approx(2.2 * per_1000),
        "fastest": pytest.approx(4.8 * per_1000),
        "overlap": None,
    }
    (at,) = car["at_speed"]
    assert (at["speed"], at["highest_gear"]) == (80, "4")
    assert at["rpm"]["4"] == pytest.approx(80 / per_1000 * 1000)
    change = car["changes"][-1]
    keeps = Fraction(17 * 24, 28 * 21)
    assert (change["from"], change["to"], change["keeps"]) == ("3", "4", str(keeps))
    assert change["after"] == pytest.approx(4800 * keeps)
    assert change["drop"] == pytest.approx(4800 * (1 - keeps))


def test_json_names_rule_and_tolerance(cogtally):
    """A tyre read from its size says by which rule it rolls, whose rule that is, and how truly."""
    ran = cogtally("road", *RATIOS, *BEHIND, "--json")
    tyre = json.loads(ran.out)["cars"][0]["tyre"]
    assert "Joint Research Centre" in tyre["rule"]
    assert tyre["tolerance"] == 0.03
    cross = cogtally("road", *RATIOS, "--axle", "9/41", "--tyre", "5.60-15", "--json")
    tyre = json.loads(cross.out)["cars"][0]["tyre"]
    assert "common practice without a source" in tyre["rule"]
    assert tyre["height_estimated"] is True


def test_a_mile_is_a_mile(cogtally):
    """A speed may bear the other unit, and is told in the one that was asked for."""
    ran = cogtally("road", *RATIOS, *BEHIND, "--speed", "50mph", "--json")
    assert json.loads(ran.out)["cars"][0]["at_speed"][0]["speed"] == pytest.approx(80.4672)


ONE = ("3.65", *BEHIND)


NOTES = [
    (("1=14/31", "2=19/26", *BEHIND), "no input or output pair is written"),
    (("1.44", "2.25", *BEHIND), "2 is no higher a gear than 1"),
    (("--demo", "--set", "hazel-5/standard", *BEHIND), "has a final drive of its own, 17/64"),
    (("3.65", "--axle", "41/9", "--tyre", "1960mm"), "the axle 41/9 gears up"),
]
REFUSED = [
    ((), "cogtally road: no gearbox was written"),
    (("3.65", "--axle", "9/41"), "no tyre was written"),
    (("3.65", "--tyre", "1960"), "no axle was written"),
    (("3.65", "2=19/26", *BEHIND), "ratios and counts of one box were mixed"),
    (("0", *BEHIND), "a ratio cannot be zero"),
    (("40", *BEHIND), "a ratio of 40 is outside"),
    (("1e3", *BEHIND), "1e3"),
    (("1=١٤/٣١", *BEHIND), "1=١٤/٣١: at character 3"),
    (("1@4:1.1", "1=14/31", *BEHIND), "a turn test gives no ratio"),
    (("1=14/_", *BEHIND), "no gear has a ratio; count 1.driven"),
    (("3.65", "--axle", "9", "--tyre", "x"), "x: no size of a tyre was read"),
    (("3.65", "--axle", "9/_", "--tyre", "1960"), "--axle 9/_: two counted wheels"),
    (("3.65", "--axle", "nine", "--tyre", "1960"), "--axle nine: this is not a number"),
    (
        ("3.65", "--axle", "9/41", "--tyre", "19600"),
        "19600: a wheel rolls 1250 to 3600 mm in a turn",
    ),
    ((*ONE, "--rpm", "3,000"), "--rpm 3,000: this is no engine speed; did you mean 3000?"),
    ((*ONE, "--rpm", "0"), "engine speed is turns a minute, above 0"),
    ((*ONE, "--rpm", "-3000"), "-3000"),
    ((*ONE, "--rpm", "99999"), "no engine turns 99999 times a minute"),
    ((*ONE, "--speed", "80 knots"), "--speed 80 knots: this is no road speed"),
    ((*ONE, "--speed", "900"), "900 km/h is no road speed"),
    ((*ONE, "--band", "4800"), "--band 4800: this is no engine band"),
    ((*ONE, "--band", "4800-2200"), "did you mean 2200-4800?"),
    ((*ONE, "--units", "knots"), "--units knots: this is no unit of road speed"),
    ((*ONE, "--overdrive", "84/24"), "--overdrive 84/24: the annulus must have more"),
    ((*ONE, "--overdrive", "1.28"), "--overdrive 1.28: an overdrive's ratio is below 1"),
    ((*ONE, "--overdriven", "4"), "--overdriven 4: this goes with --overdrive"),
    ((*ONE, "--overdrive", "24/84", "--overdriven", "4"), "--overdriven 4: there is no gear 4"),
    (
        ("input=17/28", "1=14/31", *BEHIND, "--overdrive", "24/84", "--overdriven", "2"),
        "gears: 1; where 2 locks input to output, write --direct 2 too",
    ),
    (
        ("1=14/31", "2=19/_", *BEHIND, "--overdrive", "24/84", "--overdriven", "2"),
        "--overdriven 2: gear 2 has no ratio; count 2.driven",
    ),
    (("3.65", "R=3.8", *BEHIND, "--overdrive", "24/84", "--overdriven", "R"), "reverse has no"),
    ((*ONE, "--layout", "axle"), "--layout: this goes with counts"),
    ((*ONE, "--demo"), "no set of a catalog was asked for"),
    ((*ONE, "--rpm", "3000", "--chart", "saw.gif"), "use .svg or .png or .pdf"),
    ((*ONE, "--chart", "saw.svg"), "a chart needs the engine speed"),
    ((*ONE, *(x for i in range(7) for x in ("--rpm", f"{i + 1}000"))), "7 speeds"),
    ((*ONE, *(x for i in range(7) for x in ("--axle", f"9/{i + 31}"))), "side by side"),
    (("--demo", "--set", "alder-4", *BEHIND), "alder-4: a set is named with its family"),
    (("--demo", "--set", "alder-4/wid", *BEHIND), "wide"),
    (("--demo", "--set", "pellgate-axle/9-44", *BEHIND), "this set is an axle, not a box"),
    (
        ("3.65", "--demo", "--axle", "alder-4/wide", "--tyre", "1960"),
        "has no known final drive; a box stands before an axle",
    ),
    (("--set", "alder-4/wide", "--demo", "--tyre", "1960"), "alder-4/wide: no axle"),
]
