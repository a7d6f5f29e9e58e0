"""What is found in a book by its search index is what the slow search finds, in the same order."""

import os
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.many import varied_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search import found
from cogtally.catalog.search.found import find_in, find_in_book
from cogtally.catalog.search.index_file import (
    Lists,
    below,
    bits_of,
    index_of,
    index_path,
    numbers_in,
    packed,
    parts_of,
    runs_behind,
)
from cogtally.catalog.search.index_search import Index
from cogtally.catalog.search.small import Query, parse_query, search, texts_of
from cogtally.gears.errors import UserError
from small_catalog import SMALL, pairs

CATALOGS = [
    SMALL,
    demo_catalog(),
    Catalog(()),
    *(Catalog(tuple(varied_families(12, 15, seed))) for seed in range(3)),
]
OPEN = [Index(parts_of(index_of(catalog))) for catalog in CATALOGS]


def by_index(number: int, query: Query) -> list[tuple[str, str | None, float]]:
    """What the index of a catalog finds."""
    return list(OPEN[number].find(query))


def slowly(number: int, query: Query) -> list[tuple[str, str | None, float]]:
    """What the slow search finds."""
    return [
        (hit.family.id, None if hit.known is None else hit.known.id, hit.likeness)
        for hit in search(CATALOGS[number], query)
    ]


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


@given(st.sampled_from(range(len(CATALOGS))), st.integers(0, 2**40))
def test_same_as_slow(number, seed):
    """The index finds the same, equally like and in the same order as the slow search."""
    try:
        query = asked(Random(seed), CATALOGS[number])
    except UserError:
        return
    assert by_index(number, query) == slowly(number, query)


@given(st.sampled_from(range(len(CATALOGS))), st.lists(st.text(max_size=9), max_size=4))
def test_any_words(number, words):
    """Whatever text is asked for, the index finds the same as the slow search."""
    try:
        query = parse_query(words)
    except UserError:
        return
    assert by_index(number, query) == slowly(number, query)


def test_teeth_under_two_names():
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
    index = Index(parts_of(index_of(Catalog((family,)))))
    for word, sets in (("R.driver=14", ["x"]), ("1.driver=15", ["y"]), ("R.idler=20", ["x", "y"])):
        query = parse_query([word])
        assert [known for _, known, _ in index.find(query)] == sets
        assert [hit.known.id for hit in search(Catalog((family,)), query) if hit.known] == sets


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book of many sets that is looked through by its index."""
    monkeypatch.setattr(found, "FEWEST_SETS", 1)
    path = tmp_path / "own.db"
    make_catalog_book(path, varied_families(40, 25, 7))
    return path


@pytest.mark.parametrize("most", [None, 3])
@pytest.mark.parametrize("words", [["late tuoring"], ["LG 1?"], ["_/30"], ["paper", "2=_/33"], []])
def test_in_a_book(book, words, most):
    """A book gives the same whole answer whether its index is made, read, or not asked."""
    query = parse_query(words, [] if words else ["3.65"])
    slow = find_in(read_book(book), query, most)
    assert slow.count
    assert not index_path(book).exists()
    for _ in ("made", "read"):
        quick = find_in_book(book, query, most)
        assert index_path(book).exists()
        assert (quick.families, quick.sets, quick.name) == (slow.families, slow.sets, slow.name)
        assert quick.count == slow.count
        assert [_said(hit) for hit in quick.hits] == [_said(hit) for hit in slow.hits]


def _said(hit: found.Hit) -> tuple[object, ...]:
    known = None if hit.known is None else hit.known.id
    return hit.family.id, known, hit.likeness, hit.because


def test_more_than_the_index_tells(book, monkeypatch):
    """Where very much is found and all of it is wanted, the whole book is looked through."""
    monkeypatch.setattr(found, "MOST_BY_INDEX", 5)
    query = parse_query(["ratio"])
    assert find_in_book(book, query).hits == find_in(read_book(book), query).hits


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
    """A copy of a book with another history of as many changes is not asked by the old index."""
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
def test_spoilt_index(book, words):
    """A spoilt index never is an error, and what is found is the same."""
    query = parse_query(words)
    right = find_in_book(book, query, 5)
    whole = index_path(book).read_bytes()
    for data in _spoilings(whole):
        index_path(book).write_bytes(data)
        assert find_in_book(book, query, 5) == right
    index_path(book).unlink()
    index_path(book).mkdir()
    assert find_in_book(book, query, 5) == right


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is forbidden here")
def test_folder_that_takes_no_index(book):
    """Where no file can be written the answer is the same."""
    query = parse_query(["late"])
    right = find_in_book(book, query, 5)
    index_path(book).unlink()
    book.parent.chmod(0o500)
    try:
        assert find_in_book(book, query, 5) == right
    finally:
        book.parent.chmod(0o700)


def test_small_book(tmp_path):
    """A small book is looked through as it stands, and no file is put beside it."""
    make_catalog_book(tmp_path / "own.db", SMALL.families)
    assert find_in_book(tmp_path / "own.db", parse_query(["birch"])).count
    assert not index_path(tmp_path / "own.db").exists()


numbers = st.lists(st.integers(0, 199), unique=True)


@given(st.lists(numbers, min_size=1, max_size=6))
def test_lists(lists):
    """Lists of numbers, short or long, come back as they were packed."""
    ends, data = packed(lists, 200)
    back = Lists(ends, memoryview(data), 200)
    for place, one in enumerate(lists):
        assert list(numbers_in(back.joined([place]))) == sorted(one)
    assert back.joined(range(len(lists))) == bits_of([n for one in lists for n in one], 200)


@given(st.lists(st.integers(0, 4), min_size=1, max_size=12), st.data())
def test_runs(sizes, data):
    """The runs behind some starts are all numbers up to the next start, and no other."""
    starts = [sum(sizes[:place]) + place for place in range(len(sizes))]
    end = sum(sizes) + len(sizes)
    chosen = data.draw(st.sets(st.sampled_from(starts)))
    others = below(end) & ~bits_of(starts, end)
    wanted = {
        number
        for start, size in zip(starts, sizes, strict=True)
        if start in chosen
        for number in range(start + 1, start + 1 + size)
    }
    assert set(numbers_in(runs_behind(bits_of(chosen, end), others))) == wanted
