"""The measuring of speed, at its smallest size: that it runs, not what it finds."""

from pathlib import Path

import pytest

SCRIPTS = Path(__file__).parents[1] / "scripts"

pytest.importorskip("pyagrum")
pytest.importorskip("sklearn")


@pytest.fixture(autouse=True)
def _scripts(monkeypatch) -> None:
    monkeypatch.syspath_prepend(str(SCRIPTS))


@pytest.mark.long
def test_every_part_tells_a_table():
    """Each part prints a table whose rows are all as long as its head."""
    from benchmark import PARTS, table_of
    from benchmark_measure import SMALL

    for name in PARTS:
        rows = [line for line in table_of(name, SMALL).splitlines() if line.startswith("|")]
        assert len(rows) >= 3, name
        assert len({line.count("|") for line in rows}) == 1, name


def test_peers_find_the_nearest_set():
    """Each peer names a set at the least sum of differences from what was counted."""
    from benchmark_catalogs import of_sets, questions, teeth_array
    from benchmark_peers import FLOOR, PEERS

    catalog = of_sets(20)
    teeth = teeth_array(catalog).astype(int)
    for _, counts in questions(catalog, 10, 3):
        away = [sum(abs(t - c) for t, c in zip(row, counts, strict=False)) for row in teeth.T]
        for name, made in PEERS.items():
            if name != FLOOR:
                assert away[made(teeth)(counts)] == min(away), name


def test_tables_are_written_between_the_markers(tmp_path):
    """A table takes the place of the one of its title; all else in the page stays as it was."""
    from benchmark_measure import BEGIN, END, put_table

    page = tmp_path / "page.md"
    page.write_text(f"before\n{BEGIN}\n{END}\nafter\n", encoding="utf-8")
    for title, table in (("two", "| b |\n"), ("one", "| a |"), ("two", "| c |")):
        put_table(page, title, table, ["one", "two"])
    kept = "### one\n\n| a |\n\n### two\n\n| c |"
    assert page.read_text(encoding="utf-8") == f"before\n{BEGIN}\n\n{kept}\n\n{END}\nafter\n"


def test_a_page_without_markers_is_not_written(tmp_path):
    """Where the markers are missing nothing is written."""
    from benchmark_measure import put_table

    page = tmp_path / "page.md"
    page.write_text("nothing\n", encoding="utf-8")
    with pytest.raises(ValueError, match="has no"):
        put_table(page, "one", "| a |", ["one"])
    assert page.read_text(encoding="utf-8") == "nothing\n"


@pytest.mark.parametrize("more", [1, 3])
def test_verdicts_of_simulated_boxes_keep_their_bars(more):
    """A few seeded boxes: no wrong name where a set is plainly missing, no yes beside a wheel off.

    A listed set that a steady hand counted is named, but for one box at most.
    """
    from benchmark_verdicts import FOREIGN, PLAINLY_OFF, STEADY, TAKEN_OUT, boxes, judged

    found = {
        kind: [judged(box) for box in boxes(kind, 24, more)]
        for kind in (STEADY, TAKEN_OUT, FOREIGN)
    }
    assert not any(one.yes_off for some in found.values() for one in some)
    assert not any(one.named for one in found[TAKEN_OUT] if one.off >= PLAINLY_OFF)
    assert more > 1 or sum(not one.rightly for one in found[STEADY]) <= 1
