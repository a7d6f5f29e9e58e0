"""What is found by the file beside a book is what is found in all of it, in the same order."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, strategies as st

from catalog.many import varied_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search import Query, beside, find_in, find_in_book, parse_query
from cogtally.catalog.search.beside import side_path
from cogtally.catalog.search.plain import texts_of
from cogtally.gears.errors import UserError
from cogtally.store import read_summed, write_summed
from small_catalog import SMALL, pairs

FAMILIES = [
    SMALL.families,
    demo_catalog().families,
    (),
    *(tuple(varied_families(12, 15, seed)) for seed in range(3)),
]
CATALOGS = [Catalog(families, f"{number}.db") for number, families in enumerate(FAMILIES)]


@contextmanager
def told_by_file() -> Iterator[None]:
    """Whatever is found in a book is told by the file beside it: the whole book is not read."""

    def refused(*_: object) -> None:
        raise AssertionError("the whole book was read")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beside, "FEWEST_SETS", 0)
        patch.setattr(beside, "book_catalog", refused)
        yield


@pytest.fixture(scope="module")
def books(tmp_path_factory) -> list[Path]:
    """A book of each catalog, with a file beside it."""
    folder = tmp_path_factory.mktemp("books")
    found = [folder / catalog.name for catalog in CATALOGS]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beside, "FEWEST_SETS", 0)
        for path, catalog in zip(found, CATALOGS, strict=True):
            make_catalog_book(path, catalog.families)
            find_in_book(path, Query(("x",)))
    return found


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


@given(st.sampled_from(range(len(CATALOGS))), st.integers(0, 2**40), st.sampled_from([None, 3]))
def test_same_as_whole(books, number, seed, most):
    """The file tells the same, equally like and in the same order, as the whole catalog has."""
    try:
        query = asked(Random(seed), CATALOGS[number])
    except UserError:
        return
    with told_by_file():
        found = find_in_book(books[number], query, most)
    assert found == find_in(CATALOGS[number], query, most)


@given(st.sampled_from(range(len(CATALOGS))), st.lists(st.text(max_size=9), max_size=4))
def test_any_words(books, number, words):
    """Whatever text is asked for, the file tells the same as the whole catalog has."""
    try:
        query = parse_query(words)
    except UserError:
        return
    with told_by_file():
        found = find_in_book(books[number], query)
    assert found == find_in(CATALOGS[number], query)


@pytest.mark.parametrize("by_file", [False, True])
def test_teeth_under_two_names(tmp_path, monkeypatch, by_file):
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
    monkeypatch.setattr(beside, "FEWEST_SETS", 0 if by_file else 9)
    make_catalog_book(tmp_path / "own.db", [family])
    for word, sets in (("R.driver=14", ["x"]), ("1.driver=15", ["y"]), ("R.idler=20", ["x", "y"])):
        found = find_in_book(tmp_path / "own.db", parse_query([word]))
        assert [hit.known.id for hit in found.hits if hit.known] == sets


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book of many sets that is looked through by the file beside it."""
    monkeypatch.setattr(beside, "FEWEST_SETS", 1)
    path = tmp_path / "own.db"
    make_catalog_book(path, varied_families(40, 25, 7))
    return path


@pytest.mark.parametrize("most", [None, 3])
@pytest.mark.parametrize("words", [["late tuoring"], ["LG 1?"], ["_/30"], ["paper", "2=_/33"], []])
def test_in_a_book(book, words, most):
    """A book gives the same answer when the file is made, and then without being read whole."""
    query = parse_query(words, [] if words else ["3.65"])
    right = find_in(read_book(book), query, most)
    assert not side_path(book).exists()
    assert find_in_book(book, query, most) == right
    with told_by_file():
        assert find_in_book(book, query, most) == right


def test_changed_book(book):
    """A set that was just added, changed or taken out is found, found otherwise, not found."""
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


def test_book_put_back(book, tmp_path):
    """A copy of a book with another history of as many changes is not told of by the old file."""
    family = read_book(book).families[0].id
    copy = book.read_bytes()
    for name in ("Quagmire", "Morass"):
        book.write_bytes(copy)
        for end in ("-wal", "-shm"):
            book.with_name(book.name + end).unlink(missing_ok=True)
        with writing(book, f"add {name}") as change:
            change.put_set(family, RatioSet("new", name=name))
        assert find_in_book(book, parse_query([name])).count == 1


def _spoilings(data: bytes) -> list[bytes]:
    chance = Random(3)
    cut = [data[:end] for end in (0, 10, 300, len(data) // 2, len(data) - 1)]
    flipped = []
    for _ in range(30):
        at = chance.randrange(len(data))
        flipped.append(data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :])
    return [*cut, *flipped, b"\0" * len(data), b"{}", data + b"x"]


@pytest.mark.parametrize("words", [["late tuoring"], ["1=_/30"]])
def test_spoilt_file(book, words):
    """A spoilt file never is an error, and what is found is the same."""
    query = parse_query(words)
    right = find_in_book(book, query, 5)
    whole = side_path(book).read_bytes()
    for data in _spoilings(whole):
        side_path(book).write_bytes(data)
        assert find_in_book(book, query, 5) == right
    side_path(book).unlink()
    side_path(book).mkdir()
    assert find_in_book(book, query, 5) == right


def test_file_that_says_otherwise(book):
    """A file that is whole, and names what the book does not have, is not believed."""
    query = parse_query(["late tuoring"])
    right = find_in_book(book, query, 5)
    with closing(sqlite3.connect(":memory:")) as side:
        side.deserialize(read_summed(side_path(book)))
        side.execute("UPDATE subjects SET id = 'x'")
        side.commit()
        write_summed(side_path(book), side.serialize())
    assert find_in_book(book, query, 5) == right


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is forbidden here")
def test_folder_that_takes_no_file(book):
    """Where no file can be written the answer is the same."""
    query = parse_query(["late"])
    right = find_in_book(book, query, 5)
    side_path(book).unlink()
    book.parent.chmod(0o500)
    try:
        assert find_in_book(book, query, 5) == right
    finally:
        book.parent.chmod(0o700)


def test_small_book(tmp_path):
    """A small book is looked through as it stands, and no file is put beside it."""
    make_catalog_book(tmp_path / "own.db", SMALL.families)
    assert find_in_book(tmp_path / "own.db", parse_query(["birch"])).count
    assert not side_path(tmp_path / "own.db").exists()
