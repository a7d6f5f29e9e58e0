"""The catalog in the book: what goes in comes out, every change is logged and can be undone."""

import json
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from catalog.many import many_families
from catalog.sound import COMPOUND, SLEEVE, read_text
from catalog.test_laws import families
from cogtally.catalog.book import (
    CHANGED,
    GONE,
    NEW,
    SAME,
    Book,
    compare_sets,
    differences_of,
    make_catalog_book,
    read_book,
    writing,
)
from cogtally.catalog.book.reading import ROOM
from cogtally.catalog.changes.imports import import_into, plan_import
from cogtally.catalog.files.reading import load_catalog, read_catalog
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.problem import CatalogError
from cogtally.gears.errors import UserError
from cogtally.store import entries, entry_of, undo, writing as one_change

several = st.lists(families(), max_size=3, unique_by=lambda family: family.id)


@pytest.fixture
def book(tmp_path) -> Path:
    """A book of two families of five sets."""
    make_catalog_book(tmp_path / "a.db", many_families(2, 5))
    return tmp_path / "a.db"


@given(several)
def test_kept_is_read(found):
    """What is put into a book comes out of it, every text, number and order of it."""
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "a.db"
        make_catalog_book(book, found)
        kept = read_book(book)
    assert kept.families == tuple(found)
    assert repr(kept.families) == repr(tuple(found))


@pytest.mark.parametrize("text", [SLEEVE, COMPOUND])
def test_pieces_paths_and_shared_wheels(tmp_path, text):
    """A family keeps its pieces, its spelled-out paths and its shared wheels."""
    found = read_text(text)[0].families
    make_catalog_book(tmp_path / "a.db", found)
    assert read_book(tmp_path / "a.db").families == found


def test_read_as_any_catalog(book):
    """A book is read wherever a catalog is, by its first bytes whatever its name."""
    other = book.rename(book.with_name("b.toml"))
    assert load_catalog(other) == Catalog(tuple(many_families(2, 5)), name="b.toml")
    catalog, problems = read_catalog(other)
    assert (catalog.set_count, [p for p in problems if p.is_error]) == (10, [])


def test_rules_are_asked_of_a_book(book):
    """A check of a book asks the rules of what stands in it."""
    with one_change(book, "test", "a wrong family") as change:
        change.put("families", {"id": "box-0", "direct": "1"})
    (problem,) = (p for p in read_catalog(book)[1] if p.is_error)
    assert (problem.code, problem.family, problem.file) == ("direct", "box-0", "")


CHANGES: dict[str, Callable[[Book], Any]] = {
    "put a new set": lambda b: b.put_set("box-0", RatioSet("new", pairs={"1": (14, None)})),
    "put a changed set": lambda b: b.put_set("box-0", RatioSet("set-3", ratios={"1": "3.650"})),
    "put a new family": lambda b: b.put_family(Family("oak", "axle", note="new")),
    "put a changed family": lambda b: b.put_family(Family("box-1", "axle")),
    "remove a set": lambda b: b.remove_set("box-0", "set-2"),
    "remove a family": lambda b: b.remove_family("box-0"),
    "add families": lambda b: b.add_families([replace(f, id="z") for f in many_families(1, 3)]),
    "remove and put": lambda b: (
        b.remove_family("box-0"),
        b.put_family(Family("box-0", "axle")),
        b.put_set("box-0", RatioSet("set-2")),
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_undo(book, name):
    """Every kind of change can be taken back, and leaves the catalog as it was."""
    before = read_book(book)
    with writing(book, name) as change:
        CHANGES[name](change)
    after = read_book(book)
    assert after != before
    taken, _ = undo(book)
    assert (taken.what, read_book(book)) == (name, before)


@settings(max_examples=25)
@given(st.lists(st.sampled_from(sorted(CHANGES)), max_size=6))
def test_undo_all(names):
    """As many undos as there were changes lead back through every state, to the first."""
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "a.db"
        make_catalog_book(book)
        with writing(book, "begin") as change:
            change.add_families(many_families(2, 5))
        states = [read_book(book)]
        for number, name in enumerate(names):
            with writing(book, name) as change:
                if name == "add families":
                    change.add_families([Family(f"z-{number}", "axle")])
                else:
                    _do(change, name)
            if len(entries(book)) > len(states):
                states.append(read_book(book))
        for state in reversed(states[:-1]):
            undo(book)
            assert read_book(book) == state
        undo(book)
        assert read_book(book).families == ()
        with pytest.raises(UserError, match="there is nothing to undo"):
            undo(book)


def _do(change: Book, name: str) -> None:
    """Make a change; one to a set of a family that went before is none."""
    with suppress(UserError):
        CHANGES[name](change)


def test_nothing_changed(book):
    """A change that changes nothing is not in the log."""
    with writing(book, "the same again") as change:
        for family in many_families(2, 5):
            change.put_family(family)
            for known in family.sets:
                change.put_set(family.id, known)
    assert [entry.what for entry in entries(book)] == ["catalog init"]


def test_log(book):
    """The log has when, what, before and after of every change, and what was taken back."""
    with writing(book, "fewer teeth") as change:
        change.put_set("box-1", replace(many_families(2, 5)[1].sets[2], pairs={"1": (13, 32)}))
    undo(book)
    newest, changed, first = entries(book)
    assert (newest.what, newest.undoes) == ("undo of 2: fewer teeth", 2)
    assert (changed.what, changed.undone_by, changed.rows) == ("fewer teeth", 3, 1)
    assert first.rows == 12
    (row,) = entry_of(book, 2)[1]
    assert (row.table, json.loads(row.before["teeth"])["1"]) == ("sets", [15, 30])
    (difference,) = differences_of([row])
    assert (difference.subject, difference.status) == ("box-1/set-2", CHANGED)
    assert ("pairs.1", "15/30", "13/32") in [(k.key, k.before, k.after) for k in difference.keys]


def test_no_such_family(book):
    """A set of a family that the book does not have is refused."""
    with (
        pytest.raises(UserError, match="oak: the book has no such family"),
        writing(book, "x") as change,
    ):
        change.put_set("oak", RatioSet("wide"))


def test_typed_beside_parsed(book):
    """A pair is kept as it was typed beside what it is read as; marks keep their noughts."""
    known = RatioSet(
        "new", pairs={"1": (14, None)}, marks={"laygear": ("007",)}, typed={"1": "014/_"}
    )
    with writing(book, "typed") as change:
        change.put_set("box-0", known)
    with closing(sqlite3.connect(book)) as other:
        found = other.execute("SELECT pairs, teeth, marks FROM sets WHERE id = 'new'").fetchone()
    assert found == ('{"1":"014/_"}', '{"1":[14,null]}', '{"laygear":["007"]}')


def test_views(book):
    """Any tool can ask for the teeth wheel by wheel, and for the printed ratios as numbers."""
    with writing(book, "brochure") as change:
        change.put_set("box-0", RatioSet("print", ratios={"1": "3.650"}))
    with closing(sqlite3.connect(book)) as other:
        wheels = other.execute(
            "SELECT wheel, teeth FROM wheels WHERE family = 'box-1' AND set_id = 'set-0'"
        ).fetchall()
        ratios = other.execute("SELECT * FROM printed_ratios").fetchall()
    assert [wheel for wheel in wheels if wheel[0].startswith(("R", "1"))] == [
        ("1.driver", 13),
        ("1.driven", 32),
        ("R.driver", 12),
        ("R.idler", 20),
        ("R.driven", 28),
    ]
    assert ratios == [("box-0", "print", "1", "3.650", 3.65)]


def test_strange_letters(book):
    """A text that cannot be written as UTF-8 is refused in one line."""
    with (
        pytest.raises(UserError, match="characters that cannot be kept"),
        writing(book, "x") as change,
    ):
        change.put_set("box-0", RatioSet("new", name="\udcff"))


def test_plan(book):
    """An import tells what is new, the same and changed; what it does not name stays."""
    family = many_families(1, 5)[0]
    changed = replace(family.sets[1], source="counted again")
    read = Catalog((replace(family, sets=(family.sets[0], changed, RatioSet("new"))),))
    plan = plan_import(
        replace(read, families=(replace(read.families[0], sets=read.families[0].sets[:2]),)),
        read_book(book),
    )
    assert [d.status for d in (*plan.families, *plan.sets)] == [SAME, SAME, CHANGED]
    with pytest.raises(UserError, match="the book has these otherwise: box-0/set-1"):
        import_into(book, plan.read, "import")
    import_into(book, plan.read, "import", replaces=True)
    kept = read_book(book).by_id["box-0"]
    assert [known.id for known in kept.sets] == [known.id for known in family.sets]
    assert kept.sets[1] == changed


def test_rules_with_what_is_there(book):
    """An import after which a family of the book breaks a rule is refused with that rule."""
    family = many_families(1, 1)[0]
    strange = RatioSet("strange", pairs={"input": (17, 28), "9": (14, 31)}, source="counted")
    before = read_book(book)
    with pytest.raises(CatalogError, match="box-0/strange, pairs: pair 9 is in no other set"):
        import_into(book, Catalog((replace(family, sets=(strange,)),)), "import")
    assert read_book(book) == before


def test_compare():
    """Two states of a set differ key by key; the order in which pairs are named does not count."""
    one = RatioSet("a", pairs={"1": (14, 31), "2": (19, 26)}, commonness=2)
    other = replace(one, pairs={"2": (19, 26), "1": (14, 31)})
    assert compare_sets("f", one, other).status == SAME
    assert compare_sets("f", None, one).status == NEW
    assert compare_sets("f", one, None).status == GONE
    difference = compare_sets("f", one, replace(one, commonness=1.5, features={"1-gear": {"n": 5}}))
    assert [(k.key, k.before, k.after) for k in difference.keys] == [
        ("commonness", "2", "1.5"),
        ("features.1-gear.n", None, "5"),
    ]


def test_what_others_need(book):
    """A set that rows of another room are about cannot go, and the change leaves nothing behind."""
    with closing(sqlite3.connect(book)) as other, other:
        other.execute(
            "CREATE TABLE stock (id TEXT PRIMARY KEY, family TEXT, set_id TEXT, "
            "FOREIGN KEY (family, set_id) REFERENCES sets (family, id))"
        )
        other.execute("INSERT INTO stock VALUES ('box 7', 'box-0', 'set-3')")
    before = read_book(book)
    with (
        pytest.raises(UserError, match="something else in the book still needs what was to go"),
        writing(book, "remove") as change,
    ):
        change.remove_set("box-0", "set-3")
    with pytest.raises(UserError, match="still needs"):
        undo(book)
    assert read_book(book) == before
    assert len(entries(book)) == 1


def test_one_log_for_all_rooms(book):
    """The log has the changes of all rooms; an undo takes back the last, whoever made it."""
    with writing(book, "mine") as change:
        change.remove_set("box-0", "set-3")
    with one_change(book, "stock", "theirs") as theirs:
        theirs.put("families", {"id": "box-1", "note": "on the shelf"})
    assert [(e.room, e.what) for e in entries(book)[:2]] == [("stock", "theirs"), (ROOM, "mine")]
    assert [undo(book)[0].what, undo(book)[0].what] == ["theirs", "mine"]
    with pytest.raises(UserError, match="no such entry; 'cogtally log' lists them"):
        entry_of(book, 99)


def test_undo_of_an_older_entry(book):
    """An older entry is taken back alone while nothing later touched its rows."""
    with writing(book, "a set goes") as change:
        change.remove_set("box-0", "set-3")
    for note in ("one", "two"):
        with one_change(book, "stock", note) as change:
            change.put("families", {"id": "box-1", "note": note})
    assert entry_of(book, 2)[2] == ""
    undo(book, 2)
    known = read_book(book).by_id
    assert (len(known["box-0"].sets), known["box-1"].note) == (5, "two")
    assert entry_of(book, 3)[2] == "box-1 of families was changed again by 4; take that back first"
    with pytest.raises(UserError, match="entry 3: box-1 of families was changed again by 4"):
        undo(book, 3)
    undo(book, 4)
    undo(book, 3)
    assert read_book(book).by_id["box-1"].note == ""
    for number, why in ((2, "it was taken back already, by 5"), (5, "it took 2 back")):
        with pytest.raises(UserError, match=why):
            undo(book, number)
