"""A book's catalog that is read in part: what is asked of it is as of the whole catalog."""

from collections.abc import Callable

import pytest

from cogtally.catalog.book import make_catalog_book, partly_read, writing
from cogtally.catalog.book.partly import PartlyRead
from cogtally.catalog.changes.keep import new_set_name
from cogtally.catalog.find import find_any, find_family, find_set
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.gears.errors import UserError

_ONE = {"1": (14, 31)}
WHOLE = Catalog(
    (
        Family(
            "oak-4",
            "layshaft",
            name="Oak four-speed",
            direct="4",
            sets=(
                RatioSet("wide", name="Wide ratio", pairs=_ONE, aliases=("country",)),
                RatioSet("close", pairs={"1": (16, 29)}),
            ),
        ),
        Family("elm/5", "two-shaft", aliases=("Elm",), sets=(RatioSet("a/b", pairs=_ONE),)),
        Family("ash", "layshaft", name="Twin", sets=(RatioSet("only", pairs=_ONE),)),
        Family("yew", "layshaft", name="twin"),
    ),
    name="book.db",
)


@pytest.fixture
def partly(tmp_path) -> PartlyRead:
    book = tmp_path / "book.db"
    make_catalog_book(book, WHOLE.families)
    return partly_read(book)


def _said(asked: Callable[[], object]) -> object:
    try:
        return asked()
    except UserError as error:
        return str(error)


WORDS = (
    *("oak-4", "OAK-4", "Oak four-speed", "elm", "twin", "oak-5", "nothing like it", "", "wide"),
    *("Country", "oak-4/wide", "Oak four-speed/country", "elm/5", "elm/5/a/b", "oak-4/wise"),
    *("yew/wide", "a/b"),
)


@pytest.mark.parametrize("find", [find_family, find_set, find_any, new_set_name])
@pytest.mark.parametrize("text", WORDS)
def test_what_is_named_is_found(partly, find, text):
    """A name finds the same family and set in part as in the whole, or the same is said of it."""
    assert _said(lambda: find(partly, text)) == _said(lambda: find(WHOLE, text))
    assert "families" not in partly.__dict__


def test_only_what_is_named_is_read(partly):
    """A set is found without another family than its own being read."""
    find_set(partly, "oak-4/wide")
    assert list(partly.read) == ["oak-4"]


def test_families_by_place_and_id(partly):
    """Families come in their order by place, by id too, and an unknown id is none."""
    assert partly.some([2, 0]) == (WHOLE.families[0], WHOLE.families[2])
    assert partly.by_id["ash"] is partly.some([2])[0]
    assert partly.by_id.get("fir") is None
    assert (len(partly.by_id), list(partly.by_id)) == (4, [f.id for f in WHOLE.families])
    assert partly.set_count == WHOLE.set_count


def test_all_families_after_some(partly):
    """Once all are read, those that were read before stay the same objects, and none is missing."""
    ash = partly.by_id["ash"]
    assert partly.families == WHOLE.families
    assert partly.families[2] is ash
    assert partly.by_id.get("fir") is None
    assert partly.some([1])[0] is partly.families[1]


def test_a_book_that_was_changed(partly, tmp_path):
    """What was not read before a change of the book cannot be read after it."""
    before = find_family(partly, "ash")
    with writing(tmp_path / "book.db", "catalog remove") as change:
        change.remove_family("yew")
    assert partly.by_id["ash"] is before
    with pytest.raises(UserError, match="changed while"):
        find_family(partly, "elm")
