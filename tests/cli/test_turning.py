"""`cogtally turning` as a person runs it: screens, JSON, notes and refusals."""

import json

BOX = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
DIRECT = ("--direct", "4")


def noise(*gears: str) -> tuple[str, ...]:
    return tuple(word for gear in gears for word in ("--noise", gear))


SCREENS = {
    "four-speed": (*BOX, *DIRECT),
    "noise": (*BOX, *DIRECT, *noise("1", "2", "3", "R")),
    "noise-in-neutral": (*BOX, *DIRECT, *noise("neutral")),
    "noise-of-two": (*BOX, *DIRECT, *noise("1", "3")),
    "sliding": ("input=16/29", "1=15/30", "R=12/20/31", "--sliding", "1", "--sliding", "R"),
    "sleeve": ("1=16/29", "2=20/25", "3=23/22", "output=19/26", *DIRECT),
    "two-shaft": ("1=12/41", "2=18/35", "3=23/30", "4=27/26", "R=12/20/36", "final=17/71"),
    "compound-reverse": (
        *("input=17/28", "1=14/31", "2=19/_", "R1=15/30", "R2=20/24"),
        *("--path", "R=input,R1,R2"),
    ),
    "seven-speed": (
        *("1=12/41", "2=15/38", "3=18/35", "4=21/32", "5=24/29", "6=26/27", "7=28/25"),
        "R=12/20/36",
    ),
    "axle": ("final=9/41",),
}


def test_json_has_the_promised_keys(cogtally):
    """Format 1: exact fractions as text with their sign, decimals in full precision, the loads."""
    ran = cogtally("turning", *BOX, *DIRECT, "--sliding", "1", *noise("R"), "--json")
    document = json.loads(ran.out)
    assert (ran.code, ran.err) == (0, "")
    assert list(document) == [
        *("format", "layout", "direct", "sliding", "pieces", "gears", "meshes", "free", "noise")
    ]
    assert document["format"] == 1
    assert document["sliding"] == ["1"]
    laygear = document["pieces"][1]
    assert laygear["piece"] == "laygear"
    assert laygear["wheels"][0] == "input.driven"
    assert laygear["way_known"] is True
    assert laygear["turns"][0] == {"gear": "neutral", "exact": "-17/28", "decimal": -17 / 28}
    assert document["gears"][-1] == {
        "gear": "R",
        "under_load": ["input", "R"],
        "turns_out": "-51/196",
        "decimal": -51 / 196,
        "degrees": 51 / 196 * 360,
        "to_read": {"turns_in": 4, "turns_out": "51/49", "decimal": 51 / 49},
        "missing": [],
    }
    assert document["meshes"][1] == {
        "wheels": ["1.driver", "1.driven"],
        "in_mesh": ["1"],
        "under_load": ["1"],
    }
    assert [free["gear"] for free in document["free"]] == ["2", "3", "R"]
    assert document["noise"]["heard"] == ["R"]
    assert {
        "kind": "bearing",
        "name": "R-idler",
        "turns_in": ["neutral", "1", "2", "3", "4", "R"],
        "under_load_in": ["R"],
    } in document["noise"]["under_load"]


def test_json_is_null_where_a_count_is_missing(cogtally):
    """Without a count there is no speed, and the wheel that is missing is named."""
    gear = json.loads(cogtally("turning", "1=14/_", "--json").out)["gears"][0]
    assert gear["turns_out"] is gear["decimal"] is gear["degrees"] is gear["to_read"] is None
    assert gear["missing"] == ["1.driven"]


NOTES = [
    ((*BOX, "1@4:1.1"), "does not use 1@4:1.1"),
    ((*BOX, "output=20/25"), "no gear runs through output in a box of layout layshaft"),
    (("input=17/28", "1=14/31", "R=12/28"), "It is written R=12/_/28"),
]
REFUSED = [
    ((), "cogtally turning: nothing counted was written"),
    (("1@4:1.1",), "no teeth were counted"),
    (("input=17/28",), "no gear is written"),
    (("1=18//26",), "1=18//26: at character 6"),
    (("OD=24/84", "--layout", "overdrive"), "one behind a box: --overdrive 24/84"),
    (("1=14/31", "--layout", "lay"), "--layout lay: there is no such layout"),
    (("1=14/31", "--direct", "4"), "--direct 4: no gear of the layout two-shaft"),
    (("1=14/31", "--sliding", "2"), "--sliding 2: no such gear is written"),
    (("1=14/31", "--sliding", ""), "--sliding : at character 1"),
    (("1=14/31", "--noise", "2"), "--noise 2: no such gear is written; use neutral, 1"),
    (("final=9/41", "--noise", "neutral"), "--noise neutral: no such gear is written"),
    (("final=9/41", "--sliding", "final"), "no wheel that could slide"),
    (("final=9/41", "1=14/31", "--layout", "axle"), "an axle is one pair"),
    (("neutral=9/41",), "neutral is no gear"),
    (("1=14/31", "2=20/20", "--path", "3=1,2"), "would have to turn at two speeds"),
    (("1=14/31", "--axle", "9/41"), "--axle"),
]
