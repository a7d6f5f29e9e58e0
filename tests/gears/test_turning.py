"""What turns in a box: laws of speeds at every mesh, loads, slips and what a noise points at."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_path, parse_seen
from cogtally.gears.ratios import ratio_table
from cogtally.gears.trains import Train
from cogtally.gears.turning.joints import NEUTRAL, joints
from cogtally.gears.turning.motion import (
    BEARING,
    BUSH,
    MESH,
    Turning,
    noise,
    parts,
    speeds_in,
    turning,
)

FOUR_SPEED = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
SLEEVE = ("1=16/29", "2=20/25", "3=23/22", "output=19/26")
COMPOUND = ("input=18/26", "1=13/31", "2=20/24", "R1=15/30", "R2=20/24")
COMPOUND_PATH = "R=input,R1,R2"


def box_of(*words: str, path: str | None = None, sliding: tuple[str, ...] = ()) -> Turning:
    return turning(table_of(*words, path=path), sliding)


def table_of(*words: str, path: str | None = None, **said: Any) -> Any:
    paths = [parse_path(path)] if path else []
    has_direct = len(words) > 3 and any(w.startswith(("input", "output")) for w in words)
    direct = "4" if has_direct else None
    return ratio_table(
        parse_seen(words), lambda counts: counts[0].teeth, paths=paths, direct=direct, **said
    )


teeth = st.integers(8, 60)


@st.composite
def boxes(draw: st.DrawFn) -> Turning:
    """Draw a box of any layout, some gears sliding, with reverse plain, compound or none."""
    layout = draw(st.sampled_from(["layshaft", "sleeve", "two-shaft"]))
    gears = [str(i + 1) for i in range(draw(st.integers(1, 5)))]
    words = [f"{gear}={draw(teeth)}/{draw(teeth)}" for gear in gears]
    shared = {"layshaft": "input", "sleeve": "output"}.get(layout)
    if shared:
        words.append(f"{shared}={draw(teeth)}/{draw(teeth)}")
    reverse = draw(st.sampled_from(["none", "idler", "compound"]))
    path = None
    if reverse == "idler":
        words.append(f"R={draw(teeth)}/{draw(teeth)}/{draw(teeth)}")
    elif reverse == "compound" and layout == "layshaft":
        words += [f"R1={draw(teeth)}/{draw(teeth)}", f"R2={draw(teeth)}/{draw(teeth)}"]
        path = COMPOUND_PATH
    if draw(st.booleans()) and layout == "two-shaft":
        words.append(f"final={draw(teeth)}/{draw(teeth)}")
    sliding = tuple(gear for gear in gears if draw(st.integers(0, 3)) == 0)
    table = ratio_table(
        parse_seen(words),
        lambda counts: counts[0].teeth,
        direct="9" if shared and draw(st.booleans()) else None,
        paths=[parse_path(path)] if path else [],
    )
    return turning(table, sliding)


def all_teeth(box: Turning) -> dict[str, int]:
    return {w.name: w.teeth for p in box.table.pairs for w in p.wheels if w.teeth is not None}


def speed(box: Turning, wheel: str, state: str) -> Fraction | None:
    name = box.joints.piece_of[wheel]
    return next(p.speeds[state] for p in box.pieces if p.name == name)


@given(boxes())
def test_teeth_times_speed_are_equal_and_opposite_at_every_mesh(box):
    """Each mesh passes as many teeth on one wheel as on the other; in neutral the output stands."""
    assert box.output.speeds[NEUTRAL] == 0
    assert set(box.pieces[0].speeds.values()) == {Fraction(1)}
    counted = all_teeth(box)
    for state in box.states:
        for mesh in box.joints.in_mesh(state):
            first, second = (speed(box, w, state) for w in mesh.wheels)
            a, b = (counted[w] for w in mesh.wheels)
            if mesh.at_right_angles:
                assert a * abs(first) == b * abs(second)
            else:
                assert a * first == -b * second


@given(boxes())
def test_the_turn_out_is_one_over_the_ratio(box):
    """What propagates from wheel to wheel is the product of the path, its way by its meshes."""
    sizes = {pair.name: len(pair.wheels) for pair in box.table.pairs}
    for gear, known in zip(box.gears, box.table.gears, strict=True):
        assert abs(gear.turns_out) == 1 / known.ratio
        assert gear.turns_out == box.output.speeds[gear.name]
        assert (gear.turns_out > 0) == (sum(sizes[pair] - 1 for pair in gear.load) % 2 == 0)
        if known.overall is not None:
            assert gear.at_wheels == 1 / known.overall
        # The whole turns to read at give one turn out or more, and one turn less would not.
        whole, out = gear.readable
        assert out == whole * abs(gear.turns_out) >= 1
        assert (whole - 1) * abs(gear.turns_out) < 1


@given(boxes())
def test_only_the_path_carries_load_and_it_is_in_mesh(box):
    """A mesh is loaded in just the gears whose path has its pair; it turns there."""
    for mesh in box.joints.meshes:
        behind = box.table.axle is not None and mesh.pair == "final"
        on_path = {g.name for g in box.table.gears if mesh.pair in g.path or behind}
        assert set(box.loaded(mesh)) == on_path
        for gear in on_path:
            assert mesh.is_in_mesh(gear)
            assert speed(box, mesh.wheels[0], gear) != 0


@given(boxes())
def test_a_free_gear_slips_by_the_difference_and_not_in_its_own_gear(box):
    """Slip is a piece's speed less that of what it runs on, and nothing where it is locked."""
    by_name = {piece.name: piece for piece in box.pieces}
    for free in box.free:
        assert free.slips[free.gear] == 0
        for state in box.states:
            own, under = by_name[free.piece].speeds[state], by_name[free.on].speeds[state]
            assert free.slips[state] == own - under


@given(boxes())
def test_a_noise_finds_each_part_by_its_own_loads(box):
    """A part is named for a noise in the gears in which it carries load, and turns in these."""
    for part in parts(box):
        assert part.loaded <= part.turns - {NEUTRAL}
        if part.loaded:
            assert part in noise(box, part.loaded).under_load


def test_the_bench_demonstration():
    """One turn in gives about a quarter out: 18 into 26, 13 into 31 are 9/31 turn, 104.5 degrees.

    By hand: 18/26 · 13/31 = 234/806 = 9/31; 9/31 · 360 = 3240/31.
    """
    (gear,) = [g for g in box_of("input=18/26", "1=13/31").gears if g.name == "1"]
    assert gear.turns_out == Fraction(9, 31)
    assert gear.degrees == Fraction(3240, 31)
    assert gear.readable == (4, Fraction(36, 31))


def test_a_four_speed_by_hand():
    """Laygear, free gears, idler and main shaft of a layshaft box turn as worked out by hand."""
    box = box_of(*FOUR_SPEED)
    steady = {p.name: p.speeds[NEUTRAL] for p in box.pieces if p.is_steady}
    lay = Fraction(17, 28)
    assert steady == {
        "input shaft": 1,
        "laygear": -lay,
        "1-gear": lay * Fraction(14, 31),
        "2-gear": lay * Fraction(19, 26),
        "3-gear": lay * Fraction(24, 21),
        "R-idler": lay * Fraction(12, 20),
        "R-gear": -lay * Fraction(12, 28),
    }
    assert box.output.name == "main shaft"
    assert box.output.speeds["4"] == 1
    assert box.gears[-1].load == ("input", "R")


def test_the_layshaft_of_a_sleeve_box_stands_in_neutral():
    """It is tied to the output for good, turns with it, and in direct is driven backwards by it."""
    box = box_of(*SLEEVE)
    layshaft = next(p for p in box.pieces if p.name == "layshaft")
    assert layshaft.speeds[NEUTRAL] == 0
    assert layshaft.speeds["1"] == -Fraction(16, 29)
    assert layshaft.speeds["4"] == -Fraction(26, 19)


def test_a_compound_reverse_has_one_idler_of_two_wheels():
    """R1.driven and R2.driver are one piece; three meshes turn the output backwards."""
    box = box_of(*COMPOUND, path=COMPOUND_PATH)
    idler = next(p for p in box.pieces if p.name == "R-idler")
    assert idler.wheels == ("R1.driven", "R2.driver")
    ratio = Fraction(26, 18) * Fraction(30, 15) * Fraction(24, 20)
    assert box.gears[-1].turns_out == -1 / ratio


def test_a_sliding_gear_is_in_mesh_in_its_own_gear_only():
    """Its wheel turns with the main shaft, is no free gear, and meshes in its gear alone."""
    box = box_of(*FOUR_SPEED, sliding=("1", "R"))
    assert [free.gear for free in box.free] == ["2", "3"]
    assert box.joints.piece_of["1.driven"] == box.joints.piece_of["R.driven"] == "main shaft"
    turned = {part.name: part.turns for part in parts(box) if part.kind == MESH}
    assert turned["1.driver and 1.driven"] == {"1"}
    assert turned["R.idler and R.driven"] == {"R"}
    assert turned["R.driver and R.idler"] == set(box.states)


def test_one_wheel_at_the_end_of_two_pairs_slides_by_itself():
    """A wheel with two names, first and reverse, cannot be in mesh with both: it slides."""
    sizes = {"input": 2, "1": 2, "R": 3}
    hung = joints(Train("layshaft", sizes, same={"R.driven": "1.driven"}))
    assert hung.sliding == ("1", "R")
    counted = {"input.driver": 18, "input.driven": 26, "1.driver": 13, "1.driven": 31}
    speeds = {
        state: speeds_in(hung, state, counted | {"R.driver": 12, "R.idler": 20})
        for state in hung.states
    }
    assert [speeds[s]["main shaft"] for s in (NEUTRAL, "1", "R")] == [
        0,
        Fraction(9, 31),
        -Fraction(18 * 12, 26 * 31),
    ]


def test_the_reverse_driver_may_be_the_first_one():
    """A wheel of the laygear in mesh with two others needs not slide."""
    hung = joints(Train("layshaft", {"input": 2, "1": 2, "R": 3}, same={"R.driver": "1.driver"}))
    assert hung.sliding == ()


@pytest.mark.parametrize(
    ("heard", "named"),
    [
        (
            ("1", "2", "3", "R"),
            {
                "input.driver and input.driven",
                "input shaft",
                "laygear",
                "main shaft",
                "main shaft in input shaft",
            },
        ),
        (("R",), {"R.driver and R.idler", "R.idler and R.driven", "R-idler"}),
        (("2",), {"2.driver and 2.driven"}),
    ],
)
def test_noise_under_load(heard, named):
    """Every gear but direct: what all of them share; one gear: its own mesh (common practice)."""
    assert {part.name for part in noise(box_of(*FOUR_SPEED), heard).under_load} == named


def test_noise_that_needs_no_load():
    """All but third, neutral among them: the free third gear's bush; all gears: the main shaft."""
    box = box_of(*FOUR_SPEED)
    found = noise(box, [s for s in box.states if s != "3"])
    assert [(part.kind, part.name) for part in found.turning] == [(BUSH, "3-gear on main shaft")]
    found = noise(box, [s for s in box.states if s != NEUTRAL])
    assert [(part.kind, part.name) for part in found.turning] == [(BEARING, "main shaft")]


def test_noise_in_neutral_alone_names_what_turns_there():
    """The input side and the free gears turn in neutral; the main shaft does not."""
    found = noise(box_of(*FOUR_SPEED), [NEUTRAL])
    named = {part.name for part in found.in_neutral if part.kind == BEARING}
    assert named == {"input shaft", "laygear", "R-idler", "main shaft in input shaft"}
    assert found.under_load == found.turning == ()


def test_noise_of_no_one_part():
    """First and third together have no part in common, so those of each are named as a part."""
    found = noise(box_of(*FOUR_SPEED), ["1", "3"])
    assert found.under_load == found.turning == found.in_neutral == ()
    assert {part.name for part in found.in_part} == {
        "1.driver and 1.driven",
        "3.driver and 3.driven",
    }


def test_what_is_not_counted_has_no_speed():
    """A missing driven wheel leaves its gear without a speed; a missing idler only itself."""
    box = box_of("input=17/28", "1=14/_", "2=19/26", "R=12/_/28")
    out = {gear.name: gear.turns_out for gear in box.gears}
    assert out["1"] is None
    assert out["2"] == Fraction(17 * 19, 28 * 26)
    assert out["R"] == -Fraction(17 * 12, 28 * 28)
    assert speed(box, "R.idler", "R") is None
    assert box.gears[0].missing == ("1.driven",)
    assert box.gears[0].readable is None


def test_a_pair_that_nobody_wrote_has_no_count():
    """A layshaft box without its input pair still hangs together; only speeds are not known."""
    box = turning(table_of("1=14/31", "2=19/26", layout="layshaft"))
    assert [piece.name for piece in box.pieces][:2] == ["input shaft", "laygear"]
    assert [gear.turns_out for gear in box.gears] == [None, None]
    assert box.gears[0].missing == ("input.driver", "input.driven")
    assert box.output.speeds[NEUTRAL] == 0


def test_an_axle_has_no_neutral_and_no_way_of_turning():
    """A pinion turns its crown wheel at right angles, always, by teeth alone."""
    box = box_of("final=9/41")
    assert box.states == ("final",)
    assert [(p.name, p.at_right_angles) for p in box.pieces] == [
        ("pinion", False),
        ("crown wheel", True),
    ]
    assert box.output.speeds["final"] == Fraction(9, 41)


@pytest.mark.parametrize(
    ("words", "path", "sliding", "says"),
    [
        (FOUR_SPEED, None, ("4",), "no wheel that could slide"),
        (("input=17/28", "1=14/31", "2=19/26"), "1=2,1", (), "two speeds"),
        (("1=14/31", "2=19/26"), "3=1,2", ("1",), "1 cannot slide, for gear 3 runs through"),
        (("1=16/29", "output=19/26"), "5=output", (), "tie the input to the output"),
        (("1=14/31", "2=19/26", "3=20/20"), "5=1,3", (), "two speeds"),
    ],
)
def test_what_no_box_can_be(words, path, sliding, says):
    """A gear that is not there and paths that cannot all be in constant mesh are refused."""
    with pytest.raises(UserError, match=says):
        box_of(*words, path=path, sliding=sliding)
