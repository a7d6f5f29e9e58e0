"""Marks and features through the real entry point of `identify` and `piece`, screens kept."""

import json

WILLOW = ("input=19/29", "1=15/33", "2=20/28", "3=25/23", "R=13/18/31")
LAYGEAR = ("29", "25", "20", "15", "13")
#: A screen by name: the command and all that it is told.
SCREENS: dict[str, tuple[str, ...]] = {
    "twins": ("identify", *WILLOW),
    "half-a-mark": ("identify", *WILLOW, "--mark", "input-shaft:W 1?4"),
    "splines": ("identify", *WILLOW, "--feature", "input-shaft.splines=23", "--why"),
    "hand": ("identify", *WILLOW, "--feature", "2.driver.hand=right"),
    "cannot-run": (
        *("identify", *WILLOW, "--feature", "2.driver.hand=right"),
        *("--feature", "2.driven.hand=right"),
    ),
    "differs": (
        *("identify", "input=17/28", "1=14/31", "2=19/26", "3=24/21"),
        *("--mark", "laygear:LG 3104", "--feature", "laygear.bore_mm=20.6"),
    ),
    "nothing-counted": ("identify", "--mark", "laygear:LG 31?2"),
    "piece-mark": ("piece", "19", "--mark", "W 1?4"),
    "piece-lost-mark": ("piece", "_", "--mark", "*114"),
    "piece-splines": ("piece", "19", "--feature", "splines=23"),
    "piece-hand": ("piece", *LAYGEAR, "--feature", "2.hand=right"),
    "piece-worn": ("piece", "17", "--role", "input-shaft", "--feature", "od_mm=55.9"),
}


def test_json_has_what_was_looked_at(cogtally):
    """`observed` has each look as typed and what is listed; `why` a row, `next` the looks left."""
    ran = cogtally(*SCREENS["half-a-mark"], "--demo", "--json")
    found = json.loads(ran.out)
    assert found["observed"] == [
        {
            "kind": "mark",
            "of": "input-shaft",
            "seen": "input-shaft:W 1?4",
            "listed": ["W 114"],
            "differs": False,
        }
    ]
    assert "input-shaft:W 1?4" in [row["seen"] for row in found["why"]["rows"]]
    left = [step["look"] for step in found["next"] if "look" in step]
    assert {"of": "input-shaft", "at": "splines"} in left
    assert {"of": "input-shaft", "at": "mark"} not in left
    piece = json.loads(cogtally(*SCREENS["piece-mark"], "--demo", "--json").out)
    assert piece["observed"][0]["listed"] == ["W 114"]
    assert piece["answers"][0]["sets"] == ["ten-spline"]


def test_a_piece_by_a_name_of_the_trade(cogtally):
    """`first-motion-shaft` and capitals name the piece as anywhere else."""
    plain, trade = (
        cogtally("identify", *WILLOW, "--demo", "--json", "--mark", f"{piece}:W 1?4").out
        for piece in ("input-shaft", "First-Motion-Shaft")
    )
    assert json.loads(plain)["answers"] == json.loads(trade)["answers"]


REFUSED = [
    (("identify", "--mark", "LG 3102"), "the piece that the mark is on is missing"),
    (("identify", "--mark", "lagear:LG 3102"), "no family of the catalog has a piece 'lagear'"),
    (("identify", "--mark", "laygear:"), "the mark has no letter or digit"),
    (("identify", "--mark", f"laygear:{'9' * 200}"), "200 letters and digits"),
    (("identify", "--feature", "laygear.splines"), "'=' is missing"),
    (("identify", "--feature", "laygear.spline=10"), "did you mean splines?"),
    (("identify", "--feature", "3.driver.hand=lft"), "did you mean left?"),
    (("identify", "--feature", "33.driver.hand=left"), "has a wheel '33.driver'"),
    (("identify", "--feature", "laygear.bore_mm=nan"), "is no number"),
    (("identify", "--feature", "laygear.bore_mm=-3"), "is no number"),
    (("identify", "--feature", "laygear.splines=0"), "splines is from 1"),
    (("identify", "--feature", "laygear.splines=10.5"), "is no number"),
    (("piece", "19", "--feature", "3.hand=left"), "there is no such place"),
    (("piece", "19", "--mark", "laygear:LG 3"), "not named in a mark on itself"),
    (("piece", "19", "--feature", "laygear.splines=3"), "named by its place"),
]
