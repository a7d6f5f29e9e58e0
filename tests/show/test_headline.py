"""The sentences of the less common answers."""

import dataclasses

from cogtally.catalog.model import Catalog
from cogtally.evidence.reading import Answer, Foreign, identify
from cogtally.gears.notation import parse_seen
from cogtally.show.box.headline import AXLE, sentences
from small_catalog import EARLY, SMALL


def said(*words: str, catalog: Catalog = SMALL, family: str | None = None) -> str:
    """Return all sentences of an answer of the small catalog."""
    return " ".join(sentences(identify(catalog, parse_seen(words), family=family)))


def leaning_mixed(suspects: tuple[Foreign, ...]) -> Answer:
    """Return an answer that leans to mixed, with these suspects."""
    answer = identify(SMALL, parse_seen(EARLY))
    verdict = answer.verdict._replace(kind="mixed", leaning="mixed", suspects=suspects, foreign=())
    return dataclasses.replace(answer, verdict=verdict)


def test_an_axle_warns_of_unmatched_pairs():
    """An axle's answer says that right counts do not prove a matched pair."""
    assert AXLE in said("final=9/41")
    assert AXLE not in said(*EARLY)


def test_nothing_seen_is_said_so():
    """Where nothing was counted or turned there is nothing to settle."""
    assert said("1=_/_").startswith("NOT SETTLED: nothing was counted or turned yet.")


def test_a_question_about_one_family_is_answered_about_it():
    """Asked about one family, the answer says that the box is not that."""
    assert said(*EARLY, family="twin-2").startswith(
        "NOT IN THE CATALOG: not Twin (twin-2) as the catalog has it: "
    )


def test_what_the_family_lacks_is_said_in_any_answer():
    """An idler, a pair and a gear that the family does not have are said in one sentence."""
    text = said(*EARLY, "5=30/21", "2.idler=20", "7@1:1.2")
    lacking = "with a pair 5, an idler in pair 2 and a gear 7 that the family does not have"
    assert lacking in text


def test_all_pairs_turned_round_are_shown_as_meant():
    """Where all pairs are turned round the whole box is shown as it may have been meant."""
    text = said("input=31/20", "1=36/15", "2=30/21", "3=24/27")
    assert text.startswith(
        "NEW SET: all pairs fit far better the other way round: did you mean "
        "input=20/31 1=15/36 2=21/30 3=27/24? Then it is Birch four-speed, Early (birch-4/early): "
    )


def test_pairs_turned_round_in_a_box_of_no_family_are_asked_about_alone():
    """Where a box is of no family either way round, nothing is said of what it would be."""
    assert "did you mean input=20/33 R=41/33? No family there fits" in said(
        "input=33/20", "R=33/41"
    )


def test_suspects_are_named_where_no_piece_is_clearly_foreign():
    """A mixture without a clear stranger names at most two pieces that may be it."""
    suspects = tuple(
        Foreign(piece, teeth, ("sport",), p)
        for piece, teeth, p in (
            ("3-gear", (21,), 0.4),
            ("laygear", (28, None), 0.3),
            ("1-gear", (33,), 0.2),
        )
    )
    text = " ".join(sentences(leaning_mixed(suspects)))
    assert (
        "mostly Birch four-speed, Early (birch-4/early); the stranger may be the 3-gear (21 teeth) "
        "of set sport, 40 % or the laygear (28-_) of set sport, 30 %"
    ) in text
    assert "1-gear" not in text


def test_a_mixture_without_suspects_says_what_most_of_it_is():
    """A mixture in which nothing stands out says which set most of it is of."""
    assert "mixture of sets, mostly Birch" in " ".join(sentences(leaning_mixed(())))


def test_sets_alike_in_every_wheel_are_said_to_be_so():
    """Sets that no count can part are said to be parted by marks and features alone."""
    birch = SMALL.families[0]
    early = birch.sets[0]
    twin = dataclasses.replace(early, id="twin", marks={"laygear": ("LG 1",)})
    other = dataclasses.replace(early, marks={"laygear": ("LG 2",)})
    catalog = Catalog((dataclasses.replace(birch, sets=(other, twin, *birch.sets[1:])),))
    text = said(*EARLY, catalog=catalog)
    assert "set early or twin, alike as far as counted" in text
    assert "only marks or features can part them" in text
