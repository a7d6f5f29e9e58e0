"""What was written is what is read, and whatever is read is never more than problems."""

import string
from typing import Any

from hypothesis import given, strategies as st

from catalog.sound import SOUND, problems_of, read_text, toml_text
from cogtally.catalog.draft import draft_family
from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.trains import wheel_names

ids = st.text(string.ascii_lowercase + string.digits, min_size=1, max_size=8)
texts = st.text(st.characters(codec="utf-8"), max_size=30)
names = st.sampled_from(["1", "2", "3", "4", "R", "final", "x-1"])
gaps = st.none() | st.integers(4, 200)
features = st.dictionaries(
    texts, texts | st.integers(-(10**6), 10**6) | st.floats(-1e6, 1e6), max_size=3
)


@st.composite
def families(draw: st.DrawFn) -> Family:
    """A family of two shafts whose sets name the same pairs, with everything optional drawn."""
    sizes = draw(st.dictionaries(names, st.sampled_from([2, 3]), min_size=1, max_size=4))
    wheels = [w for pair, size in sizes.items() for w in wheel_names(pair, size)]
    pieces = [w.replace(".", "-") for w in wheels]
    sets = [
        RatioSet(
            id=known,
            name=draw(texts),
            pairs={p: tuple(draw(gaps) for _ in range(n)) for p, n in sizes.items()},
            commonness=draw(st.floats(0.01, 100)),
            source=draw(texts),
            aliases=tuple(draw(st.lists(texts, max_size=2))),
            marks=draw(st.dictionaries(st.sampled_from(pieces), st.tuples(texts), max_size=2)),
            features=draw(st.dictionaries(st.sampled_from(wheels + pieces), features, max_size=2)),
        )
        for known in draw(st.lists(ids, unique=True, min_size=1, max_size=3))
    ]
    brochure = RatioSet(id="brochure-", ratios={draw(names): draw(st.sampled_from(["1.00", "2"]))})
    return Family(
        id=draw(ids),
        layout="two-shaft",
        name=draw(texts),
        sets=(*sets, brochure),
        aliases=tuple(draw(st.lists(texts, max_size=2))),
        centre_distance_mm=draw(st.none() | st.floats(1, 1000)),
        note=draw(texts),
    )


def table_of(family: Family) -> dict[str, Any]:
    """A family's own keys as somebody would write them."""
    table: dict[str, Any] = {"id": family.id, "layout": family.layout, "name": family.name}
    if family.centre_distance_mm is not None:
        table["centre_distance_mm"] = family.centre_distance_mm
    return {**table, "aliases": list(family.aliases), "note": family.note}


def set_table(known: RatioSet) -> dict[str, Any]:
    """A set's keys as somebody would write them."""
    return {
        "id": known.id,
        "name": known.name,
        "aliases": list(known.aliases),
        "commonness": known.commonness,
        "source": known.source,
        "pairs": {
            pair: "/".join("_" if t is None else str(t) for t in teeth)
            for pair, teeth in known.pairs.items()
        },
        "ratios": dict(known.ratios),
        "marks": {piece: list(marks) for piece, marks in known.marks.items()},
        "features": known.features,
    }


@given(families())
def test_written_is_read(family):
    """A family written as TOML is read as itself, every text and number of it."""
    catalog, problems = read_text(
        toml_text(table_of(family), [set_table(known) for known in family.sets])
    )
    assert catalog.families == (family,)
    errors = {p.code for p in problems if p.is_error}
    # All else was drawn so that it is right.
    assert errors <= {"empty-set"}


@given(families())
def test_sheet_is_read(family):
    """A family written as a sheet has the teeth, ids and sources of that family."""
    wheels = [
        (pair, place, wheel)
        for pair, teeth in family.sets[0].pairs.items()
        for place, wheel in enumerate(wheel_names(pair, len(teeth)))
    ]
    rows = [["family", "layout", "set", *(wheel for _, _, wheel in wheels)]]
    for known in family.sets[:-1]:
        counts = [known.pairs[pair][place] for pair, place, _ in wheels]
        cells = ["_" if count is None else str(count) for count in counts]
        rows.append([family.id, family.layout, known.id, *cells])
    (read,) = read_text("\n".join("\t".join(row) for row in rows), "a.csv")[0].families
    assert read.id == family.id
    assert [(s.id, dict(s.pairs)) for s in read.sets] == [
        (s.id, dict(s.pairs)) for s in family.sets[:-1]
    ]


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts | names, inner, max_size=3),
    max_leaves=8,
)
keys = st.sampled_from(["id", "name", "layout", "pairs", "ratios", "pieces", "same", "paths", "x"])
tables = st.dictionaries(keys, values, max_size=6)


@given(tables, values | st.lists(tables, max_size=3))
def test_any_table(table, sets):
    """Whatever stands in the tables of a family, it comes to problems, each with a sentence."""
    from cogtally.catalog.check.rules import check_draft

    found = check_draft(draft_family(table, sets))
    assert all(finding.code and finding.sentence for finding in found)


spoiling = st.lists(
    st.tuples(st.integers(0, len(SOUND)), st.integers(0, 12), st.text(max_size=4)), max_size=6
)


@given(spoiling, st.sampled_from(["a.toml", "a.csv"]))
def test_any_slip(slips, name):
    """Whatever slips of the hand are made in a file, it comes to problems that can be printed."""
    text = SOUND
    for at, length, typed in slips:
        text = text[:at] + typed + text[at + length :]
    data = text.encode("utf-8", "surrogatepass")
    assert all(str(problem).isprintable() for problem in problems_of(data, name))


@given(families(), st.randoms(use_true_random=False))
def test_order_of_sets(family, random):
    """The order of the sets changes no code that is not about which of two came first."""
    shuffled = list(family.sets)
    random.shuffle(shuffled)
    there = [set_table(known) for known in family.sets]
    again = [set_table(known) for known in shuffled]
    first, second = (
        sorted(p.code for p in problems_of(toml_text(table_of(family), sets)))
        for sets in (there, again)
    )
    assert first == second
