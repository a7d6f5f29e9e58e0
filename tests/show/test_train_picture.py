"""The picture of a train: every wheel there, in proportion, in mesh, and nothing on anything."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest
from hypothesis import assume, given, strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.laws import likeliest_teeth
from cogtally.evidence.reading import identify
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_path, parse_seen
from cogtally.gears.ratios import RatioTable, parse_axle, parse_overdrive, ratio_table
from cogtally.show.drawing import Drawing, Group, Item, Line, Polyline, Text, leaves, svg_text
from cogtally.show.train import (
    Subject,
    answer_subject,
    gear_drawing,
    table_subject,
    train_drawing,
    train_picture,
)
from cogtally.show.train.places import COLUMN
from show.drawing_checks import faults, small_texts

DEMO = demo_catalog()
SETS = [
    pytest.param(family, known, id=f"{family.id}/{known.id}")
    for family in DEMO.families
    for known in family.counted_sets
]
OVERDRIVE = Family("od", "overdrive", sets=(RatioSet("a", pairs={"OD": (24, 84)}),))
MIXED = ("input=17/28", "1=14/31", "2=19/26", "3=24/22", "R=12/20/28")


def words_of(known: RatioSet) -> list[str]:
    """A set as it would be written down."""
    return [
        f"{pair}={'/'.join('_' if count is None else str(count) for count in teeth)}"
        for pair, teeth in known.pairs.items()
    ]


def subject(words: Sequence[str], gear: str | None = None) -> Subject:
    """What the picture of a box of the demo catalog shows."""
    return answer_subject(identify(DEMO, parse_seen(words)), gear=gear)


def table(words: Sequence[str], **said: object) -> RatioTable:
    """The table of ratios of words."""
    return ratio_table(
        parse_seen(words), lambda counts: likeliest_teeth(counts, range(4, 201)), **said
    )


def gears_of(family: Family) -> list[str]:
    """The gears of a family; an axle behind a box is none."""
    return [g for g in family.train.gears if g != "final" or family.layout == "axle"]


def groups(drawing: Drawing, begins: str) -> dict[str, Group]:
    """The groups of a drawing whose names begin so, by the rest of their names."""

    def inside(items: Sequence[Item]) -> Iterator[Group]:
        for item in items:
            if isinstance(item, Group):
                yield item
                yield from inside(item.items)

    found = inside(drawing.pages[0].items)
    return {g.name.removeprefix(begins): g for g in found if g.name.startswith(begins)}


def letters(group: Group) -> list[str]:
    """The texts of a group."""
    return [item.text for item in leaves(group.items) if isinstance(item, Text)]


@pytest.mark.parametrize(("family", "known"), SETS)
def test_every_demo_box_is_drawn_whole(family, known):
    """Every wheel has its sign and its count; no label is cut, covered or crossed, in any gear."""
    answer = identify(DEMO, parse_seen(words_of(known)))
    teeth = family.teeth_of(known)
    is_first = known is family.counted_sets[0]
    for gear in (None, *gears_of(family)) if is_first else (None,):
        drawing = train_drawing(answer_subject(answer, gear=gear))
        assert faults(drawing) == []
        signs, labels = groups(drawing, "wheel "), groups(drawing, "label ")
        assert set(signs) == set(labels) == set(family.train.wheels)
        for wheel, count in teeth.items():
            said = letters(labels[wheel])
            assert said[0] == ("?" if count is None else str(count))


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("family", DEMO.families, ids=lambda family: family.id)
def test_half_counted_boxes_are_drawn_whole(family, start):
    """With every second pair counted, the rest is dashed and nothing covers anything."""
    words = words_of(family.counted_sets[-1])[start::2]
    drawing = train_drawing(answer_subject(identify(DEMO, parse_seen(words), family=family.id)))
    assert faults(drawing) == []
    labels = groups(drawing, "label ")
    counted = {count.wheel for count in parse_seen(words).counts}
    for wheel, sign in groups(drawing, "wheel ").items():
        bar = sign.items[0]
        assert isinstance(bar, Line)
        named = {w for w, kept in family.train.names.items() if kept == wheel}
        is_dashed = bar.pen.dash is not None
        assert is_dashed == (letters(labels[wheel])[0] == "?") == (not named & counted)


@pytest.mark.parametrize("family", DEMO.families, ids=lambda family: family.id)
def test_wheels_are_as_high_as_their_teeth(family):
    """Two wheels in mesh are in the proportion of their teeth."""
    known = family.counted_sets[0]
    teeth = family.teeth_of(known)
    wheels = train_picture(subject(words_of(known))).plan.wheels
    for one, other in family.train.meshes:
        a, b = teeth[one], teeth[other]
        assert wheels[one].radius / wheels[other].radius == pytest.approx(a / b, rel=0.03)


@pytest.mark.parametrize("family", DEMO.families, ids=lambda family: family.id)
def test_what_is_in_mesh_touches_or_is_tied(family):
    """Every mesh is a touch of two rims at the pitch line, or a line between them, in its gears."""
    words = words_of(family.counted_sets[0])
    for mesh in subject(words).joints.meshes:
        for gear in mesh.only_in or (None,):
            plan = subject(words, gear).plan()
            touch, tie = plan.contact(*mesh.wheels), plan.tie(*mesh.wheels)
            assert (touch is None) != (tie is None or tie.parted)


SLIDES = (
    (("input=17/29", "1=16/30", "2=24/22", "R1=12/14", "R2=17/30"), "1.driven", ("1", "R")),
    (MIXED, "1.driven", ("1",)),
    (MIXED, "R.driven", ("R",)),
)


@pytest.mark.parametrize(("words", "wheel", "gears"), SLIDES)
def test_a_sliding_wheel_is_in_mesh_in_its_own_gear_only(words, wheel, gears):
    """In neutral and in every other gear it stands clear of all, a ghost where it would engage."""
    for gear in (None, *subject(words).train.gears):
        shown = subject(words, gear)
        plan = shown.plan()
        own = plan.wheels[wheel]
        assert own.seat == "slides"
        touched = [m for m in shown.joints.meshes if wheel in m.wheels and plan.contact(*m.wheels)]
        tied = [t for t in plan.ties if wheel in t.wheels and not t.parted]
        assert len(touched) + len(tied) == (gear in gears)
        assert len(own.ghosts) == len(gears) - (gear in gears)


@pytest.mark.parametrize("family", DEMO.families, ids=lambda family: family.id)
def test_a_sleeve_stands_beside_all_that_it_locks(family):
    """Every gear that no wheel slides into has one sleeve, next to its wheel, on the same shaft."""
    shown = subject(words_of(family.counted_sets[0]))
    plan = shown.plan()
    for gear, lock in shown.joints.locks.items():
        sleeves = [s for s in plan.sleeves if gear in (s.left, s.right)]
        is_locked = gear not in shown.joints.sliding and shown.train.layout != "axle"
        assert len(sleeves) == is_locked
        if sleeves and lock is not None:
            wheel = plan.wheels[lock.wheel]
            side = 1 if gear == sleeves[0].left else -1
            assert (sleeves[0].y, sleeves[0].x) == (wheel.y, wheel.x + side * COLUMN / 2)


def test_a_mixed_box_is_hatched_by_set():
    """Each piece has the hatching of its set, the stranger another one and a word of its own."""
    shown = subject((*MIXED[:3], "3=24/22x2"))
    assert [words for _, words in shown.sets] == [
        "wide: 4 pieces",
        "late or close: 1 piece",
        "not counted: 1 piece",
    ]
    assert shown.hatches["3.driver"] != shown.hatches["3.driven"]
    assert "R.idler" not in shown.hatches
    called = shown.labels["3.driven"].called
    assert called == "3-gear, 22: of late or close; wide has 21"
    found = groups(train_drawing(shown), "hatching ")
    slopes = {
        wheel: {
            round((b - y) / (a - x), 3)
            for line in leaves(group.items)
            if isinstance(line, Line)
            for (x, y), (a, b) in [(line.start, line.end)]
        }
        for wheel, group in found.items()
    }
    assert slopes["3.driver"] == {-1.0}
    assert slopes["3.driven"] == {1.0}


#: The same words in five scripts: of a family, and of a pair.
SCRIPTS = {
    "latin": "Érable à quatre vitesses, première série",
    "greek": "Κιβώτιο τεσσάρων σχέσεων",
    "cyrillic": "Коробка передач, вторая серия",
    "arabic": "علبة تروس بأربع سرعات",
    "hebrew": "תיבת הילוכים ישנה",
}


@pytest.mark.parametrize("script", list(SCRIPTS))
@pytest.mark.parametrize(
    "kind", ["alder-4", "hazel-5", "osier-4", "tarnholt-3", "pellgate-axle", "mixed", "half", "all"]
)
def test_pictures_in_five_scripts(script, kind):
    """Of every layout, mixed, half counted, all gears: nothing on anything, no word under 7 pt."""
    family = DEMO.by_id.get(kind, DEMO.by_id["alder-4"])
    family = replace(family, name=SCRIPTS[script])
    words = words_of(family.counted_sets[0])
    words = {"mixed": [*MIXED[:3], "3=24/22x2"], "half": words[::2]}.get(kind, words)
    answer = identify(Catalog((family,)), parse_seen(words))
    gear = "all" if kind == "all" else None
    drawing = gear_drawing(lambda gear: answer_subject(answer, gear=gear), gear)
    assert faults(drawing) == []
    assert small_texts(drawing, 7.0) == []
    text = " ".join(letters(Group("page", drawing.pages[0].items)))
    assert SCRIPTS[script].split()[0] in text


def test_all_gears_are_on_one_page():
    """`--gear all` draws every gear once, each with its own way of power."""
    drawing = gear_drawing(lambda gear: table_subject(table(MIXED, direct="4"), gear=gear), "all")
    assert len(drawing.pages) == 1
    assert list(groups(drawing, "gear ")) == ["1", "2", "3", "4", "R"]
    assert len(list(groups(drawing, "power"))) == 1
    assert faults(drawing) == []
    assert small_texts(drawing, 7.0) == []


def test_which_way_the_shafts_turn():
    """The laygear turns against the input, the main shaft with it, in reverse against it."""
    for gear, way in (("3", 1), ("R", -1)):
        power = train_picture(table_subject(table(MIXED), gear=gear)).power
        assert (power.ways["laygear"], power.ways["main shaft"]) == (-1, way)


def test_an_overdrive_behind_is_drawn():
    """It stands between box and axle, its counts and names with it."""
    drawn = table(MIXED, direct="4", axle=parse_axle("9/41"), overdrive=parse_overdrive("24/84"))
    drawing = train_drawing(table_subject(drawn, gear="2"))
    assert faults(drawing) == []
    assert letters(groups(drawing, "label ")["overdrive.annulus"]) == ["84", "annulus"]
    assert letters(groups(drawing, "label ")["final.driven"]) == ["41", "crown wheel"]
    half = identify(Catalog((OVERDRIVE,)), parse_seen(["OD=24/_"]))
    assert answer_subject(half).train.layout == "overdrive"


def test_an_idler_stands_beside():
    """An idler touches one of its mates and is tied to the other."""
    plan = train_picture(subject(MIXED)).plan
    heights = {wheel.y for name, wheel in plan.wheels.items() if name != "R.idler"}
    assert plan.wheels["R.idler"].y not in heights
    assert plan.contact("R.driver", "R.idler") is not None
    assert plan.tie("R.idler", "R.driven") is not None


def test_a_disagreement_is_marked_by_shape_and_word():
    """A count that the set does not have is told by a triangle, by words, and by colour."""
    drawing = train_drawing(answer_subject(identify(DEMO, parse_seen(MIXED))))
    labels = groups(drawing, "label ")
    marked = {
        wheel
        for wheel, label in labels.items()
        if any(isinstance(item, Polyline) and item.closed for item in label.items)
    }
    assert marked == {"3.driven"}
    assert letters(labels["3.driven"]) == ["22", "not 21"]
    assert "3: tooth sum 46, not 45." in subject(MIXED).remarks


def test_what_the_set_has_stands_in_brackets():
    """A wheel that nobody counted shows a question mark, and what the named set has there."""
    drawing = train_drawing(answer_subject(identify(DEMO, parse_seen(["input=17/28", "1=14/31"]))))
    assert letters(groups(drawing, "label ")["2.driver"]) == ["?", "(19)"]
    assert letters(groups(drawing, "key ")["listed"])[-1] == "as in wide"


@pytest.mark.parametrize("family", DEMO.families, ids=lambda family: family.id)
def test_power_runs_unbroken_through_every_gear(family):
    """From the input's end to the output's, over each wheel of the gear's pairs, without a gap."""
    words = words_of(family.counted_sets[0])
    for gear in gears_of(family):
        picture = train_picture(subject(words, gear))
        way = picture.power
        assert way.lines[0][0] == picture.plan.enters
        for line, following in itertools.pairwise(way.lines):
            assert line[-1] == pytest.approx(following[0])
        assert way.lines[-1][-1] == pytest.approx(picture.plan.leaves)
        path = family.train.path(gear) or ()
        ends = {w for both in family.train.path_wheels(path) for w in both}
        assert ends <= way.wheels


def test_power_stands_out_without_colour():
    """Lines under load are drawn wider than the same lines of a box at rest, others paler."""
    at_rest = groups(train_drawing(table_subject(table(MIXED))), "wheel ")
    in_gear = groups(train_drawing(table_subject(table(MIXED), gear="3")), "wheel ")

    def pen(found: dict[str, Group], wheel: str) -> tuple[float, str]:
        line = found[wheel].items[0]
        assert isinstance(line, Line)
        return line.pen.width, line.pen.colour

    assert pen(in_gear, "3.driver")[0] > pen(at_rest, "3.driver")[0]
    assert pen(in_gear, "2.driver")[0] < pen(at_rest, "2.driver")[0]
    assert pen(in_gear, "2.driver")[1] != pen(in_gear, "3.driver")[1]


def test_direct_locks_the_two_shafts():
    """In the direct gear power runs straight through and no wheel is under load."""
    way = train_picture(subject(MIXED, "4")).power
    assert way.wheels == frozenset()
    assert len(way.lines) == 1


def test_spelled_out_paths_are_drawn():
    """A reverse through two wheels made in one has a shaft of its own and its ratio below."""
    drawn = table(
        ["input=17/29", "1=16/30", "R1=12/14", "R2=17/30"],
        paths=[parse_path("R=input,R1,R2", "--path")],
    )
    drawing = train_drawing(table_subject(drawn, gear="R"))
    assert faults(drawing) == []
    assert any(
        text.startswith("R: 3.512, through input, R1, R2")
        for text in letters(groups(drawing, "words")[""])
    )


def test_what_no_gear_runs_through_is_said():
    """A pair that cannot be drawn is named below."""
    said = train_drawing(table_subject(table(["1=14/31", "input=17/28"], layout="two-shaft")))
    assert "Not drawn, for no gear runs through it: input." in letters(groups(said, "words")[""])


def test_a_sleeve_locks_what_was_driven_before_the_shaft_drives_on():
    """The steps of a sleeve box are told from the input to the output, each beside the others."""
    drawn = table(["R=10/10", "output=18/26"], layout="sleeve", direct="8")
    drawing = train_drawing(table_subject(drawn, gear="R"))
    said = (
        "Under load: (1) 10 drives 10, (2) the sleeve locks the R-gear to the layshaft, "
        "(3) 18 drives 26."
    )
    assert said in " ".join(letters(groups(drawing, "words")[""]))
    assert faults(drawing) == []


COUNT = st.one_of(st.integers(10, 48).map(str), st.just("_"))
PAIR = st.tuples(COUNT, COUNT).map("/".join)


@given(
    st.sampled_from(["layshaft", "sleeve", "two-shaft"]),
    st.lists(PAIR, min_size=1, max_size=7),
    st.one_of(st.none(), PAIR, st.tuples(COUNT, COUNT, COUNT).map("/".join)),
    st.booleans(),
    st.data(),
)
def test_random_boxes_are_drawn_whole(layout, pairs, reverse, axle, data):
    """Whatever was counted in whatever layout, nothing is cut, covered or crossed."""
    words = [f"{number}={pair}" for number, pair in enumerate(pairs, 1)]
    words += [f"R={reverse}"] if reverse else []
    words += {"layshaft": ["input=17/28"], "sleeve": ["output=18/26"]}.get(layout, [])
    words += ["final=9/41"] if axle else []
    direct = "8" if layout != "two-shaft" and data.draw(st.booleans()) else None
    drawn = table(words, layout=layout, direct=direct)
    gear = data.draw(st.sampled_from([None, *(gear.name for gear in drawn.gears)]))
    assume(drawn.gears)
    assert faults(train_drawing(table_subject(drawn, gear=gear))) == []


@pytest.mark.parametrize(
    ("name", "words", "gear"),
    [
        ("mixed", MIXED, None),
        ("half-counted", ("input=17/28", "1=14/_"), "1"),
        ("compound-reverse", words_of(DEMO.by_id["tarnholt-3"].sets[0]), "R"),
        ("two-shaft", words_of(DEMO.by_id["hazel-5"].sets[0]), "5"),
        ("sleeve", words_of(DEMO.by_id["osier-4"].sets[0]), "2"),
        ("axle", words_of(DEMO.by_id["pellgate-axle"].sets[0]), None),
    ],
)
def test_snapshot(name, words, gear, snapshot):
    """The picture is what was looked at when it was kept."""
    snapshot(f"picture/{name}", svg_text(train_drawing(subject(words, gear))))


def test_an_overdrive_is_sun_planets_and_annulus():
    """An overdrive of a catalog is drawn round its sun, which is held; it has no gear to show."""
    answer = identify(Catalog((OVERDRIVE,)), parse_seen(["OD=24/84"]))
    drawing = train_drawing(answer_subject(answer))
    assert faults(drawing) == []
    wheels = train_picture(answer_subject(answer)).plan.wheels
    assert wheels["OD.driver"].radius / wheels["OD.driven"].radius == pytest.approx(24 / 84)
    assert "planets" in groups(drawing, "")
    with pytest.raises(UserError, match="no such gear"):
        answer_subject(answer, gear="OD")
