"""Boxes of an overdrive: two wheels that do not mesh with each other, and no turn tests."""

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from cogtally.catalog.files.writers import toml_of
from cogtally.catalog.looked import refuse_overdrive_turns
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.advice import advise
from cogtally.evidence.reading import identify
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_seen
from cogtally.show.box.json import answer_json
from evidence.test_against_reference import assert_alike, shares
from reference.enumeration import Reference

#: Each piece of an overdrive as a family of the reference, which knows axles, calls it.
AS_AXLE = {"OD-sun": "OD-pinion", "OD-annulus": "OD-crown"}


def overdrives(chance: Random) -> list[Family]:
    """Two or three random overdrives of one to four sets, some of their wheels not counted."""
    return [_family(f"od-{number}", chance) for number in range(chance.choice([1, 2, 3]))]


def _family(name: str, chance: Random) -> Family:
    sets = []
    for number in range(chance.choice([1, 2, 3, 4])):
        sun = chance.choice([18, 21, 24, 24, 25])
        annulus = chance.choice([60, 72, 75, 84, None])
        sets.append(
            RatioSet(f"s{number}", pairs={"OD": (sun, annulus)}, commonness=chance.choice([1, 2]))
        )
    return Family(name, "overdrive", sets=tuple(sets))


def _as_axle(family: Family) -> dict[str, Any]:
    sets = [
        {
            "id": known.id,
            "commonness": known.commonness,
            "pairs": {p: "/".join("_" if t is None else str(t) for t in ts)},
        }
        for known in family.sets
        for p, ts in known.pairs.items()
    ]
    return {"family": {"id": family.id, "layout": "axle"}, "set": sets}


@pytest.mark.parametrize("seed", range(12))
def test_as_two_wheels_without_a_mesh(seed):
    """Every probability is that of the reference for two wheels that no tooth sum ties."""
    chance = Random(seed)
    families = overdrives(chance)
    reference = Reference([_as_axle(family) for family in families])
    for _ in range(3):
        ends = [
            chance.choice(["_", str(chance.choice(near)), f"{chance.choice(near)}u"])
            for near in ([18, 21, 23, 24, 25], [60, 71, 75, 84])
        ]
        words = ["OD=" + "/".join(ends)]
        ours = answer_json(identify(Catalog(tuple(families)), parse_seen(words)))
        theirs = reference.identify(words)
        for rows in ("answers", "so_far"):
            keys = ("kind", "family", "sets") if rows == "answers" else ("family", "sets")
            assert_alike(shares(ours[rows], *keys), shares(theirs[rows], *keys), words)
        leading = {row["family"] for row in ours["pieces"]}
        pieces = [{**row, "piece": AS_AXLE[row["piece"]]} for row in ours["pieces"]]
        assert_alike(
            shares(pieces, "family", "piece", "type", "sets"),
            shares(
                [row for row in theirs["pieces"] if row["family"] in leading],
                *("family", "piece", "type", "sets"),
            ),
            words,
        )


LINNET = Family(
    "linnet-od",
    "overdrive",
    name="Linnet overdrive",
    sets=(
        RatioSet("early", pairs={"OD": (21, 75)}, source="x"),
        RatioSet("late", pairs={"OD": (24, 84)}, source="x"),
    ),
)
BOX = Family("box-2", "two-shaft", sets=(RatioSet("a", pairs={"OD": (24, 84)}),))


def test_ratio():
    """What was counted has the ratio of an overdrive, the set beside it too, and no mesh."""
    answer = identify(Catalog((LINNET,)), parse_seen(["OD=24/84"]), advising=advise)
    document = answer_json(answer)
    assert document["gears"] == [{"gear": "OD", "ratio": "7/9", "decimal": 7 / 9}]
    assert document["meshes"] == []
    assert all("turn" not in step for step in document["next"])
    (line,) = answer.lines
    assert line.ratio == line.listed_ratio


def test_no_turn_tests():
    """A turn test of an overdrive is refused, where no other box has a gear of that name."""
    seen = parse_seen(["OD@1:1.28"])
    with pytest.raises(UserError, match="a turn test of an overdrive is not weighed"):
        refuse_overdrive_turns(Catalog((LINNET,)), seen)
    with pytest.raises(UserError):
        refuse_overdrive_turns(Catalog((LINNET, BOX)), seen, "linnet-od")
    refuse_overdrive_turns(Catalog((LINNET, BOX)), seen)
    refuse_overdrive_turns(Catalog((LINNET, BOX)), seen, "box-2")
    refuse_overdrive_turns(Catalog((LINNET,)), parse_seen(["OD=24/84", "1@1:1.28"]))


def test_what_to_count_instead():
    """Where a turn test is refused, the pair to be counted is called as it was written."""
    family = replace(LINNET, sets=(RatioSet("early", pairs={"over": (21, 75)}, source="x"),))
    with pytest.raises(UserError) as caught:
        refuse_overdrive_turns(Catalog((family,)), parse_seen(["over@1:1.28"]))
    assert caught.value.mend == "count sun and annulus: over=24/84"


@pytest.fixture
def files(tmp_path) -> str:
    """A catalog file of one overdrive."""
    tall = RatioSet("tall", pairs={"OD": (27, None)}, source="x")
    family = replace(LINNET, sets=(*LINNET.sets, tall))
    (tmp_path / "od.toml").write_text(toml_of([family]), encoding="utf-8")
    return str(tmp_path / "od.toml")


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("show", ["catalog", "show", "linnet-od"]),
        ("show-set", ["catalog", "show", "linnet-od/late"]),
        ("identify", ["identify", "OD=24/84"]),
        ("mixed", ["identify", "OD=21/84"]),
        ("turned-round", ["identify", "OD=84/24"]),
    ],
)
def test_screens(cogtally, snapshot, files, name, words, columns):
    """An overdrive is shown and named as any other family."""
    ran = cogtally(*words, "--catalog", files, columns=columns)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= columns
    snapshot(f"overdrive/{name}-{columns}", ran.out)


def test_turned(cogtally, files):
    """At the command line a turn test of it is refused in one line."""
    ran = cogtally("identify", "OD@1:1.28", "--catalog", files)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("cogtally: OD@1:1.28: a turn test of an overdrive is not weighed;")
