"""The library's face: its example, its names, and how little it loads."""

import doctest
import inspect
import subprocess
import sys
from typing import get_type_hints

import pytest

import cogtally

BOX = "input=17/28 1=14/31 2=19/26 3=24/21 R=12/20/28"


def test_the_example_runs():
    """The worked example of the docstring prints what it shows."""
    found = doctest.testmod(cogtally, optionflags=doctest.FAIL_FAST)
    assert found.failed == 0
    assert found.attempted >= 10


def test_importing_it_loads_nothing_more():
    """`import cogtally` loads no numpy and no room of the program; the first name does."""
    code = (
        "import sys; before = set(sys.modules); import cogtally; "
        "print([m for m in set(sys.modules) - before if m.split('.')[0] in ('numpy', 'cogtally')]);"
        "cogtally.identify; print('cogtally.library' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["['cogtally']", "True"]


@pytest.mark.parametrize("name", cogtally.__all__)
def test_every_name_is_offered_with_a_sentence_and_types(name):
    """What `__all__` names is there, has a docstring, and each function's types are known."""
    offered = getattr(cogtally, name)
    assert name in dir(cogtally)
    assert inspect.getdoc(offered)
    if inspect.isfunction(offered):
        hints = get_type_hints(offered)
        assert set(hints) == {*inspect.signature(offered).parameters, "return"}


def test_another_name_is_not_there():
    """A name that is not offered is an AttributeError, as of any module."""
    with pytest.raises(AttributeError, match="no attribute 'identfy'"):
        _ = cogtally.identfy


def test_results_are_frozen():
    """Neither an answer, nor what was asked, nor the catalog can be written to."""
    catalog = cogtally.demo_catalog()
    box = cogtally.identify(catalog, cogtally.parse_box(BOX))
    piece = cogtally.identify_piece(catalog, cogtally.parse_piece("28 24 19 14 12"))
    for result, field in (
        (box, "verdict"),
        (box.verdict, "kind"),
        (box.seen, "words"),
        (piece, "verdict"),
        (piece.seen, "places"),
        (catalog, "families"),
    ):
        with pytest.raises(AttributeError):
            setattr(result, field, None)


def test_names_mean_what_they_mean_to_the_commands():
    """Pairs, families, sets and roles may be called as people call them."""
    catalog = cogtally.demo_catalog()
    plain = cogtally.identify(catalog, cogtally.parse_box(BOX), expect="alder-4/wide", why=True)
    called = cogtally.identify(
        catalog,
        cogtally.parse_box("Input=17/28 first=14/31 2nd=19/26 third=24/21 reverse=12/20/28"),
        family="ALDER-4",
    )
    assert called.gears == plain.gears
    assert called.verdict.sets == plain.verdict.sets == ("wide",)
    assert (called.restricted, called.account, called.advice) == ("alder-4", None, None)
    assert plain.account is not None
    assert plain.expectation is not None
    piece = cogtally.identify_piece(
        catalog, cogtally.parse_piece("28 24 _ 14 12", ["LG 3102"]), role="cluster"
    )
    assert (piece.role, piece.groups[0].sets) == ("laygear", ("wide",))


def test_what_cannot_be_meant_is_refused():
    """A piece that no family has and a set of another family are told as UserError."""
    catalog = cogtally.demo_catalog()
    with pytest.raises(cogtally.UserError, match="no family of the catalog has a piece"):
        cogtally.identify(catalog, cogtally.parse_box(BOX, ["gearstick: 12"]))
    with pytest.raises(cogtally.UserError, match="alder-4/wide"):
        cogtally.identify(catalog, cogtally.parse_box(BOX), family="rowan-5", expect="alder-4/wide")
