"""What is found in a book is what is found in its catalog read whole, in the same order."""

from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.many import varied_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search import Query, find_in, find_in_book, parse_query, texts_of
from cogtally.gears.errors import UserError
from small_catalog import SMALL, pairs


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Books: small, empty, and of many sets."""
    folder = tmp_path_factory.mktemp("books")
    kept = [SMALL.families, (), *(varied_families(12, 15, seed) for seed in range(3))]
    for number, families in enumerate(kept):
        make_catalog_book(folder / f"{number}.db", families)
    return sorted(folder.glob("*.db"))


def asked(chance: Random, catalog: Catalog) -> Query:
    """A question such as somebody may ask: parts of what there is, misspelt, half read."""
    texts = ["late", "LG 12", "x", "counted"]
    texts += [text for f in catalog.families for k in (None, *f.sets) for _, text in texts_of(f, k)]
    words = [_spoilt(chance, chance.choice(texts)) for _ in range(chance.choice([0, 1, 1, 2]))]
    if chance.random() < 0.3:
        pair = chance.choice(["", "1=", "R=", "final=", "input="])
        driver = chance.choice(["_", str(chance.randrange(11, 30))])
        words.append(f"{pair}{driver}/{chance.randrange(18, 45)}")
    if chance.random() < 0.2:
        wheel = chance.choice(["1.driver", "R.driver", "R.idler", "2.driven", "9.driven"])
        words.append(f"{wheel}={chance.randrange(11, 30)}")
    ratios = [
        f"{chance.choice(['', '1=', 'final=', '4='])}{chance.randrange(90, 460) / 100:.{places}f}"
        for places in (1, 2)
        if chance.random() < 0.2
    ]
    source = chance.choice(["", "", "bench", "coutned bench", "Page 3", "lsit old", "paper"])
    return parse_query(words, ratios, source)


def _spoilt(chance: Random, text: str) -> str:
    at = chance.randrange(len(text))
    how = chance.randrange(5)
    changed = (text, text[at:], text[:at] + "?" + text[at + 1 :], text[:at] + text[at + 1 :])
    return changed[how] if how < 4 else text[:at] + "o" + text[at:]


@given(st.integers(0, 4), st.integers(0, 2**40), st.sampled_from([None, 3]))
def test_same_as_whole(books, number, seed, most):
    """A book gives the same answer as its catalog read whole."""
    catalog = read_book(books[number])
    try:
        query = asked(Random(seed), catalog)
    except UserError:
        return
    assert find_in_book(books[number], query, most) == find_in(catalog, query, most)


def test_teeth_under_two_names(tmp_path):
    """A wheel of two names is found by each of them, also where only one pair was counted."""
    family = Family(
        "a-1",
        "layshaft",
        direct="2",
        same={"R.driver": "1.driver"},
        sets=(
            RatioSet("x", pairs=pairs(input="17/28", g1="14/31", gR="_/20/28")),
            RatioSet("y", pairs=pairs(input="17/28", g1="15/30", gR="15/20/28")),
        ),
    )
    book = tmp_path / "own.db"
    make_catalog_book(book, [family])
    for word, sets in (("R.driver=14", ["x"]), ("1.driver=15", ["y"]), ("R.idler=20", ["x", "y"])):
        query = parse_query([word])
        assert [hit.known.id for hit in find_in_book(book, query).hits if hit.known] == sets
        assert find_in(Catalog((family,)), query).count == len(sets)


def test_changed_book(tmp_path):
    """A set that was just added, changed or taken out is found, found otherwise, not found."""
    book = tmp_path / "own.db"
    make_catalog_book(book, SMALL.families)
    query = parse_query(["Quagmire"])
    assert find_in_book(book, query).count == 0
    family = read_book(book).families[0].id
    with writing(book, "test") as change:
        change.put_set(family, RatioSet("new", name="Quagmire"))
    assert [hit.known.id for hit in find_in_book(book, query).hits if hit.known] == ["new"]
    with writing(book, "test") as change:
        change.put_set(family, RatioSet("new", name="Quagmire", source="Quagmire hill"))
    assert find_in_book(book, parse_query(["hill", "quagmire"])).hits[0].because
    with writing(book, "test") as change:
        change.remove_set(family, "new")
    assert find_in_book(book, query).count == 0
