"""Know the general-purpose peers that find the nearest set: a tree, a table, and the floor.

They tell one set at the least sum of differences and no probability. How they are timed is left
to `benchmark_warm`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: A peer is asked with the counts of the first wheels, and tells the place of a set.
Ask = Callable[[Sequence[int]], int]
TREE, TABLE, FLOOR = "BallTree with its fit", "SQLite", "floor"


def ball_tree(teeth: NDArray[Any]) -> Ask:
    """scikit-learn's BallTree; fitted for each question, for the choice of wheels is another."""
    from sklearn.neighbors import BallTree

    def ask(counts: Sequence[int]) -> int:
        tree = BallTree(teeth[: len(counts)].T, metric="manhattan")
        _, places = tree.query([counts], k=1)
        return int(places[0, 0])

    return ask


def sqlite_table(teeth: NDArray[Any]) -> Ask:
    """A plain table in memory, a column a wheel, sorted by the sum of differences."""
    book = sqlite3.connect(":memory:")
    wheels = [f"w{number}" for number in range(len(teeth))]
    book.execute(f"CREATE TABLE sets (id INTEGER PRIMARY KEY, {', '.join(wheels)})")
    rows = ([place, *row] for place, row in enumerate(teeth.T.tolist()))
    book.executemany(f"INSERT INTO sets VALUES (?{', ?' * len(wheels)})", rows)

    def ask(counts: Sequence[int]) -> int:
        away = " + ".join(f"abs({wheels[place]} - ?)" for place in range(len(counts)))
        found = book.execute(f"SELECT id FROM sets ORDER BY {away}, id LIMIT 1", list(counts))
        return int(found.fetchone()[0])

    return ask


def floor(teeth: NDArray[Any]) -> Ask:
    """Reading the bytes of the counted wheels of all sets once, with numpy; it tells nothing."""

    def ask(counts: Sequence[int]) -> int:
        return int(teeth[: len(counts)].max())

    return ask


PEERS: dict[str, Callable[[NDArray[Any]], Ask]] = {
    TREE: ball_tree,
    TABLE: sqlite_table,
    FLOOR: floor,
}
