"""What is made of a posterior: each verdict at its threshold, and whether an expectation is met."""

from collections.abc import Sequence

import pytest

from cogtally.evidence.posterior import (
    MATCHED,
    MIXED,
    UNCATALOGUED,
    VARIANT,
    PieceShare,
    Posterior,
    Share,
    Shares,
)
from cogtally.evidence.reading import (
    DENIED,
    NARROWED,
    RECOUNT,
    SURE,
    UNDECIDED,
    judge,
)
from cogtally.evidence.reading.verdict import base_sets, expected
from cogtally.gears.notation import Seen, parse_seen
from small_catalog import BIRCH, SMALL

ALL = parse_seen(["input=20/31", "1=15/36", "2=21/30", "3=27/24", "R=14/18/32"])
NEVER = float(0)


def posterior(
    matched: float = NEVER,
    *,
    mixed: float = NEVER,
    variant: float = NEVER,
    uncatalogued: float = NEVER,
    so_far: tuple[Share, ...] = (),
    pieces: tuple[PieceShare, ...] = (),
) -> Posterior:
    """Return a posterior of `birch-4`, written by hand; `matched` is that of its set `early`."""
    return Posterior(
        answers=shares(
            [group(matched, "early")],
            [Share(MIXED, mixed), Share(VARIANT, variant), Share(UNCATALOGUED, uncatalogued)],
        ),
        so_far=shares(so_far),
        families={"birch-4": 1 - uncatalogued},
        leading="birch-4",
        pieces=pieces,
        steady=0.8,
        log_evidence=0.0,
    )


def shares(named: Sequence[Share], rest: Sequence[Share] = ()) -> Shares:
    """Return shares of `birch-4`, falling, as the engine gives them."""
    chances = [share.probability for share in named]
    places = range(len(named))
    return Shares(
        [0] * len(named), places, chances, lambda _, at, __: named[at], {"birch-4": 0}, rest
    )


def group(probability: float, *sets: str) -> Share:
    """Return a so-far group of `birch-4`."""
    return Share(MATCHED, probability, "birch-4", sets)


def three_gear(probability: float, teeth: int | None, *sets: str) -> PieceShare:
    """Return one type of the 3-gear of `birch-4`."""
    return PieceShare("birch-4", "3-gear", None if teeth is None else (teeth,), sets, probability)


BELOW = SURE - 1e-12


@pytest.mark.parametrize(("probability", "kind"), [(SURE, MATCHED), (BELOW, UNDECIDED)])
def test_one_set_so_far_is_matched_from_090_on(probability, kind):
    """A so-far group of one set is the verdict from 0.90 on, and not settled below."""
    verdict = judge(SMALL, posterior(0.5, so_far=(group(probability, "early"),)), ALL)
    assert (verdict.kind, verdict.leaning) == (kind, MATCHED)
    assert (verdict.family, verdict.sets, verdict.probability) == (
        "birch-4",
        ("early",),
        probability,
    )


@pytest.mark.parametrize(("probability", "kind"), [(SURE, NARROWED), (BELOW, UNDECIDED)])
def test_several_sets_so_far_are_narrowed_from_090_on(probability, kind):
    """A so-far group of several sets is narrowed from 0.90 on, however alike they fit."""
    found = posterior(0.5, so_far=(group(probability, "early", "sport"),))
    verdict = judge(SMALL, found, ALL)
    assert (verdict.kind, verdict.leaning, verdict.sets) == (kind, NARROWED, ("early", "sport"))


@pytest.mark.parametrize("sets", [("early",), ("early", "sport")])
def test_a_wheel_that_disagrees_makes_it_a_recount(sets):
    """However probable a set is, with a wheel that it does not have it is to be counted again."""
    seen = parse_seen(["input=20/31", "1=15/36", "2=21/32", "3=27/25", "R=14/18/32"])
    found = posterior(0.999, so_far=(group(0.9999, *sets),))
    verdict = judge(SMALL, found, seen)
    assert (verdict.kind, verdict.leaning, verdict.sets) == (RECOUNT, RECOUNT, sets)
    assert not verdict.is_clean
    assert verdict.names_sets
    assert [(d.wheel, d.counted, d.listed) for d in verdict.disagrees] == [
        ("2.driven", 32, 30),
        ("3.driven", 25, 24),
    ]


@pytest.mark.parametrize(("probability", "kind"), [(0.5, RECOUNT), (0.49, UNDECIDED)])
def test_a_recount_is_asked_for_before_a_set_is_sure(probability, kind):
    """A set with a wheel off is to be counted again from one half on, and sure from 0.90 on."""
    seen = parse_seen(["input=20/31", "1=15/36", "3=27/25"])
    verdict = judge(SMALL, posterior(0.3, so_far=(group(probability, "early"),)), seen)
    assert (verdict.kind, verdict.leaning, verdict.is_sure) == (kind, RECOUNT, False)


def test_a_wheel_counted_often_is_its_likeliest_count():
    """A miscount that was made good by further counts stands in nobody's way."""
    seen = Seen((*ALL.words, *parse_seen(["3.driven=25", "3.driven=24"]).words))
    found = posterior(0.95, so_far=(group(0.95, "early"),))
    assert judge(SMALL, found, seen).kind == MATCHED


@pytest.mark.parametrize("kind", [MIXED, VARIANT, UNCATALOGUED])
@pytest.mark.parametrize("probability", [SURE, BELOW])
def test_the_rest_is_said_from_090_on(kind, probability):
    """Mixed, variant and uncatalogued are the verdict from 0.90 on, and not settled below."""
    found = posterior(0.01, so_far=(group(0.02, "early"),), **{kind: probability})
    verdict = judge(SMALL, found, ALL)
    assert verdict.kind == (kind if probability == SURE else UNDECIDED)
    assert (verdict.leaning, verdict.probability) == (kind, probability)


def test_without_counts_the_answer_itself_is_asked():
    """Where no wheel is counted, matched is said of the whole answer."""
    verdict = judge(SMALL, posterior(SURE), parse_seen(["1@4:1.1"]))
    assert (verdict.kind, verdict.sets, verdict.probability) == (MATCHED, ("early",), SURE)


@pytest.mark.parametrize(("so_far", "mixed", "kind"), [(0.95, 0.92, MATCHED), (0.92, 0.95, MIXED)])
def test_the_more_probable_of_two_is_said(so_far, mixed, kind):
    """Where a so-far group and mixed both qualify, the more probable one is the verdict."""
    found = posterior(0.05, mixed=mixed, so_far=(group(so_far, "early"),))
    assert judge(SMALL, found, ALL).kind == kind


def test_the_whole_box_is_the_sum_of_the_answers_inside_the_group():
    """The whole box is as probable as the matched answers of the sets so far together."""
    found = posterior(0.6, so_far=(group(0.97, "early", "sport"),))
    named = [group(0.6, "early"), group(0.3, "sport"), group(0.05, "haul")]
    found = found._replace(answers=shares(named, found.answers[1:]))
    assert judge(SMALL, found, ALL).whole_box == pytest.approx(0.9)


def test_pieces_without_a_count_are_named():
    """A piece is not counted while none of its wheels has a count."""
    seen = parse_seen(["3=27/_", "R=_/18/_"])
    verdict = judge(SMALL, posterior(0.9, so_far=(group(0.95, "early"),)), seen)
    assert verdict.not_counted == ("input-shaft", "1-gear", "2-gear", "3-gear", "R-gear")


def test_a_piece_likelier_of_another_set_is_foreign():
    """The stranger is the piece that is likelier of another set's type than of the box's own."""
    shares = (
        *(PieceShare("birch-4", "laygear", (1,), ("early",), p) for p in (0.98,)),
        three_gear(0.03, 24, "early"),
        three_gear(0.96, 21, "sport"),
        three_gear(0.01, None),
    )
    verdict = judge(SMALL, posterior(0.02, mixed=0.96, pieces=shares), ALL)
    assert verdict.sets == ("early",)
    assert [(f.piece, f.teeth, f.from_sets, f.probability) for f in verdict.foreign] == [
        ("3-gear", (21,), ("sport",), 0.96)
    ]
    assert [(u.piece, u.probability) for u in verdict.unlisted] == [("3-gear", 0.01)]


def test_a_doubtful_piece_is_a_suspect_and_not_foreign():
    """A piece that is likelier of the box's own set is a suspect at most."""
    shares = (three_gear(0.6, 24, "early"), three_gear(0.4, 21, "sport"))
    verdict = judge(SMALL, posterior(0.1, mixed=0.9, pieces=shares), ALL)
    assert verdict.foreign == ()
    assert [s.piece for s in verdict.suspects] == ["3-gear"]


def test_the_base_is_the_set_with_most_pieces():
    """A mixed box is of the set that carries most of its pieces, with that set's twins in them."""
    laygear = PieceShare("birch-4", "laygear", (1,), ("sport",), 1.0)
    gear = PieceShare("birch-4", "1-gear", (2,), ("sport", "haul"), 1.0)
    assert base_sets(BIRCH, (laygear, gear, three_gear(1.0, 24, "early"))) == ("sport",)
    assert base_sets(BIRCH, (gear,)) == ("sport", "haul")


def test_what_the_family_lacks_is_named_once():
    """A pair, an idler and a gear that the family does not have are named, each once."""
    seen = Seen((*ALL.words, *parse_seen(["5=30/21", "3.idler=12", "7@1:1.2", "5@1:1.2"]).words))
    verdict = judge(SMALL, posterior(variant=0.99), seen)
    assert [(t.kind, t.name) for t in verdict.lacking] == [
        ("pair", "5"),
        ("idler", "3"),
        ("gear", "7"),
    ]


@pytest.mark.parametrize(
    ("probability", "seen", "answer"),
    [
        (SURE, ALL, "yes"),
        (BELOW, ALL, "open"),
        (DENIED + 1e-12, ALL, "open"),
        (DENIED, ALL, "no"),
        (0.999, Seen((*ALL.words[:4], *parse_seen(["R=14/18/33"]).words)), "open"),
        (0.99, parse_seen(["input=20/31"]), "open"),
        (0.01, parse_seen(["input=20/31"]), "no"),
    ],
)
def test_an_expectation_at_its_thresholds(probability, seen, answer):
    """Yes needs 0.90, a count of every piece and no wheel off; no is said at 0.10; else open."""
    found = expected(SMALL, posterior(probability), "birch-4", "early", seen)
    assert (found.answer, found.probability) == (answer, probability)
