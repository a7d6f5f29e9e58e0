"""What is kept beside a book: with it the answers are those of the whole catalog."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from cogtally.catalog.book.reading import make_catalog_book, read_book, writing
from cogtally.catalog.changes.partly import state_of_book
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search.index_file import index_path, parts_of
from cogtally.evidence import kept as keeping
from cogtally.evidence.advice import advise_shut
from cogtally.evidence.assembled import posterior
from cogtally.evidence.family_view import view_of_family
from cogtally.evidence.kept import (
    ENDING,
    KeptCatalog,
    StackedCatalog,
    keep_tables,
    kept_catalog,
)
from cogtally.evidence.kept_bounds import Known, ShapeBounds
from cogtally.evidence.kept_tables import Tables, tables_of
from cogtally.evidence.overdrive_turns import refuse_overdrive_turns
from cogtally.evidence.parts import HANDS, Counted
from cogtally.evidence.prepared import prepare
from cogtally.evidence.reading import identify, least_difference, nearest_sets
from cogtally.evidence.seen import SeenBox
from cogtally.evidence.weighed import weigh
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen, parse_seen
from evidence.kept_books import FAMILIES, book_catalog


def _boxes(catalog: Catalog, seed: int) -> list[Seen]:
    """Boxes of the catalog counted well and badly, in part and whole, and strange ones."""
    dice = random.Random(seed)
    found = []
    for counted in (6, 6, 5, 5, 4):
        family = dice.choice([f for f in catalog.families if f.layout == "layshaft"])
        known, other = (dice.choice(family.counted_sets) for _ in range(2))
        words = []
        for pair in dice.sample(list(known.pairs), counted):
            teeth = dice.choice([known, known, other]).pairs[pair]
            off = [dice.choice([0, 0, 0, 0, 0, 0, 1, -1, 9]) for _ in teeth]
            words.append(
                f"{pair}="
                + "/".join(str(t + o) if t else "_" for t, o in zip(teeth, off, strict=True))
            )
        found.append(parse_seen(words))
    strange = [f"{p}={dice.randint(9, 60)}/{dice.randint(9, 60)}" for p in ("input", "1", "2", "7")]
    return [*found, parse_seen(strange)]


#: Questions to which many families matter.
OPEN = [parse_seen(words) for words in (["final=9/40"], ["1.driver=15", "input=17/_"], [])]
#: Boxes that were turned.
TURNED = [parse_seen(words) for words in (["1@4:1.5", "R@3:1.1"], ["2@4:2.1", "input=17/29"])]


@pytest.fixture(scope="module", params=[KeptCatalog, StackedCatalog])
def kind(request: pytest.FixtureRequest) -> Iterator[type[Catalog]]:
    """What is kept of the books here: small tables, or stacks as of a large book."""
    with pytest.MonkeyPatch.context() as patch:
        if request.param is StackedCatalog:
            patch.setattr(keeping, "MOST", FAMILIES - 1)
        yield request.param


@pytest.fixture(scope="module", params=[1, pytest.param(2, marks=pytest.mark.long)])
def book(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    kind: type[Catalog],
) -> Path:
    path = tmp_path_factory.mktemp("kept") / "book.db"
    make_catalog_book(path, book_catalog(request.param).families)
    assert keep_tables(path, read_book(path), state_of_book(path))
    assert isinstance(kept_catalog(path), kind)
    return path


def _kept(book: Path) -> KeptCatalog | StackedCatalog:
    found = kept_catalog(book)
    assert found is not None
    return found


def test_bounds_hold() -> None:
    """No family has more than its two bounds say, and none less than the bound from below."""
    for seed in range(2):
        catalog = book_catalog(seed)
        parts = tables_of(catalog)
        assert parts is not None
        tables = Tables(json.loads(parts["head"]), parts_of(parts))
        ready = prepare(catalog)
        known = Known(ready.rho, tables.known, tables.sums, tables.commonness)
        for seen in _boxes(catalog, seed):
            box = SeenBox(seen, ready.rho)
            for shape in tables.shapes:
                for row in shape.families[:12]:
                    family = catalog.families[row.number]
                    bounds = ShapeBounds(shape.shape, view_of_family(family, box), box, known)
                    part = Counted(ready, family, box, ready.commonness)
                    part.work()
                    share = max(part.log_share(hand) for hand in HANDS)
                    assert share <= bounds.sharp(row) + 1e-12
                    assert share <= bounds.quick(row) + 1e-12
                    least = max(bounds.at_least(c, teeth) for c, teeth in shape.sets_of(row))
                    assert least <= share


def test_answers_are_those_of_the_wholebook_catalog(book: Path) -> None:
    """What a question finds by the tables is within 1e-12 of what the whole catalog says."""
    whole = read_book(book)
    for seed in range(2):
        for seen in [*_boxes(whole, seed), *TURNED]:
            kept = _kept(book)
            ours, theirs = posterior(kept, seen), posterior(whole, seen)
            assert ours.log_evidence == pytest.approx(theirs.log_evidence, abs=1e-12)
            assert ours.leading == theirs.leading
            assert ours.steady == pytest.approx(theirs.steady, abs=1e-12)
            for name in ("answers", "so_far"):
                shares = [
                    {(s.kind, s.family, s.sets): s.probability for s in getattr(one, name)}
                    for one in (ours, theirs)
                ]
                for key in shares[0].keys() | shares[1].keys():
                    assert abs(shares[0].get(key, 0.0) - shares[1].get(key, 0.0)) <= 1e-12


def test_few_families_are_read(book: Path) -> None:
    """A box of which all was counted needs a small part of the book; one that was turned, all.

    Of a large book, which has stacks, the latter needs but what no stack holds.
    """
    whole = read_book(book)
    family = whole.families[7]
    pairs = family.counted_sets[0].pairs.items()
    kept = _kept(book)
    weigh(kept, parse_seen([f"{p}={'/'.join(map(str, t))}" for p, t in pairs]))
    assert len(kept.read) < FAMILIES / 3
    assert "families" not in kept.__dict__
    turned = weigh(kept, parse_seen(["1@4:1.5"]))
    if isinstance(kept, KeptCatalog):
        assert turned.families == whole.families
    else:
        stacks = prepare(kept).known_stacks()
        assert stacks is not None
        assert turned.families == stacks.others
        assert "families" not in kept.__dict__


def test_a_box_reads_what_is_shown_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a large book the answer to ten counts reads what it shows, and what no stack holds."""
    monkeypatch.setattr(keeping, "MOST", FAMILIES - 1)
    path = tmp_path / "book.db"
    whole = book_catalog(3)
    make_catalog_book(path, whole.families)
    assert keep_tables(path, read_book(path), state_of_book(path))
    kept = _kept(path)
    pairs = whole.families[7].counted_sets[0].pairs
    words = [f"{p}={'/'.join(map(str, pairs[p]))}" for p in ("input", *"1235")]
    answer = identify(kept, parse_seen(words))
    shown = {near.family for near in answer.nearest} | {r.share.family for r in answer.rivals}
    stacks = prepare(kept).known_stacks()
    assert stacks is not None
    assert answer.verdict.family == "f7"
    assert set(kept.read) <= shown | {"f7", ""} | {family.id for family in stacks.others}
    assert len(kept.read) < FAMILIES / 3


def test_a_turned_box_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a large book no answer to turn tests reads many families, nor to those of an overdrive."""
    monkeypatch.setattr(keeping, "MOST", FAMILIES - 1)
    path = tmp_path / "book.db"
    overdrives = [
        Family(f"od-{n}", "overdrive", sets=(RatioSet("s", pairs={"OD": (24, 84 + 3 * n)}),))
        for n in range(9)
    ]
    make_catalog_book(path, [*book_catalog(3).families, *overdrives])
    assert keep_tables(path, read_book(path), state_of_book(path))
    kept = _kept(path)
    answer = identify(kept, parse_seen(["1@4:1.5"]), advising=advise_shut)
    assert answer.advice is not None
    assert answer.advice.turns
    refuse_overdrive_turns(kept, parse_seen(["1@4:1.5", "OD=24/84"]))
    with pytest.raises(UserError, match="a turn test of an overdrive is not weighed"):
        refuse_overdrive_turns(kept, parse_seen(["OD@1:1.28"]))
    with pytest.raises(UserError, match="a turn test of an overdrive is not weighed"):
        refuse_overdrive_turns(kept, parse_seen(["OD@1:1.28"]), "od-3")
    assert len(kept.read) < FAMILIES / 3


def test_nearest_sets_are_those_of_the_wholebook_catalog(book: Path) -> None:
    """The nearest sets, their order and the least difference come out the same."""
    whole = read_book(book)
    for seed in range(4):
        for seen in [*_boxes(whole, seed), *OPEN, *TURNED]:
            kept = _kept(book)
            assert nearest_sets(kept, seen) == nearest_sets(whole, seen)
            assert least_difference(_kept(book), seen) == least_difference(whole, seen)


def test_verdicts_are_those_of_the_wholebook_catalog(book: Path) -> None:
    """The whole answer, its hints included, says the same."""
    whole = read_book(book)
    for seen in _boxes(whole, 9):
        ours, theirs = identify(_kept(book), seen), identify(whole, seen)
        for name in ("kind", "family", "sets", "not_counted", "lacking"):
            assert getattr(ours.verdict, name) == getattr(theirs.verdict, name)
        assert ours.nearest == theirs.nearest
        assert [r.wheel for r in ours.recounts] == [r.wheel for r in theirs.recounts]
        assert (ours.turned is None) == (theirs.turned is None)
        assert ours.lines == theirs.lines


@pytest.mark.usefixtures("kind")
def test_tables_of_another_state_are_not_used(tmp_path: Path) -> None:
    """A book that was changed has no tables until they are written anew; nobody is told."""
    path = tmp_path / "book.db"
    make_catalog_book(path, book_catalog(1).families)
    assert kept_catalog(path) is None
    assert keep_tables(path, read_book(path), state_of_book(path))
    kept = _kept(path)
    with writing(path, "catalog remove") as change:
        change.remove_family("f8")
    assert kept_catalog(path) is None
    with pytest.raises(UserError, match="changed while"):
        kept.some([3])
    before = state_of_book(path)
    with writing(path, "catalog remove") as change:
        change.remove_family("f9")
    assert not keep_tables(path, read_book(path), before)


@pytest.mark.parametrize("cut", [0, 10, 300, 5_000])
@pytest.mark.usefixtures("kind")
def test_spoilt_tables_are_not_used(tmp_path: Path, cut: int) -> None:
    """Tables whose end is missing, or with a byte changed, are as if there were none."""
    path = tmp_path / "book.db"
    make_catalog_book(path, book_catalog(1).families)
    assert keep_tables(path, read_book(path), state_of_book(path))
    place = index_path(path, ENDING)
    data = place.read_bytes()
    place.write_bytes(data[:cut])
    assert kept_catalog(path) is None
    place.write_bytes(data[: -cut - 1] + bytes([data[-cut - 1] ^ 1]) + data[len(data) - cut :])
    assert kept_catalog(path) is None


@pytest.mark.usefixtures("kind")
def test_no_file_is_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What would take too much room beside a book is not written."""
    monkeypatch.setattr(keeping, "MOST_BYTES", 10_000)
    path = tmp_path / "book.db"
    make_catalog_book(path, book_catalog(1).families)
    assert not keep_tables(path, read_book(path), state_of_book(path))
    assert not index_path(path, ENDING).exists()


@pytest.mark.usefixtures("kind")
def test_a_place_that_is_only_read(tmp_path: Path) -> None:
    """Where the tables cannot be written, that is no error."""
    path = tmp_path / "book.db"
    make_catalog_book(path, book_catalog(1).families)
    index_path(path, ENDING).mkdir()
    assert not keep_tables(path, read_book(path), state_of_book(path))
    assert kept_catalog(path) is None
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []
