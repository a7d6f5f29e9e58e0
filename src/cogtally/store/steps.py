"""The versions of the book in order, each as the statements that make it of the one before.

What the tables mean is left to the rooms that own them: `log` and `changes` to this one, the
others to the catalog and the shelf. A step that people's books have seen is never changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

#: Stands in the head of every book, to tell it from other programs' databases ("CogT").
APPLICATION_ID = 0x436F6754


@dataclass(frozen=True, slots=True)
class Step:
    """One version of the book: its number, and the statements that lead to it."""

    version: int
    statements: tuple[str, ...]


_LOG = (
    """
    CREATE TABLE log (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        room TEXT NOT NULL,
        what TEXT NOT NULL,
        undoes INTEGER UNIQUE REFERENCES log (id)
    ) STRICT
    """,
    """
    CREATE TABLE changes (
        entry INTEGER NOT NULL REFERENCES log (id),
        number INTEGER NOT NULL,
        place TEXT NOT NULL,
        before TEXT CHECK (before IS NULL OR json_valid(before)),
        after TEXT CHECK (after IS NULL OR json_valid(after)),
        PRIMARY KEY (entry, number)
    ) STRICT, WITHOUT ROWID
    """,
)

_CATALOG = (
    """
    CREATE TABLE families (
        id TEXT PRIMARY KEY NOT NULL,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        aliases TEXT CHECK (aliases IS NULL OR json_valid(aliases)),
        layout TEXT NOT NULL,
        direct TEXT,
        centre_distance_mm REAL,
        note TEXT NOT NULL,
        pieces TEXT CHECK (pieces IS NULL OR json_valid(pieces)),
        same TEXT CHECK (same IS NULL OR json_valid(same)),
        paths TEXT CHECK (paths IS NULL OR json_valid(paths))
    ) STRICT
    """,
    """
    CREATE TABLE sets (
        family TEXT NOT NULL REFERENCES families (id) DEFERRABLE INITIALLY DEFERRED,
        id TEXT NOT NULL,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        aliases TEXT CHECK (aliases IS NULL OR json_valid(aliases)),
        commonness REAL NOT NULL CHECK (commonness > 0),
        source TEXT NOT NULL,
        pairs TEXT CHECK (pairs IS NULL OR json_valid(pairs)),
        teeth TEXT CHECK (teeth IS NULL OR json_valid(teeth)),
        ratios TEXT CHECK (ratios IS NULL OR json_valid(ratios)),
        marks TEXT CHECK (marks IS NULL OR json_valid(marks)),
        features TEXT CHECK (features IS NULL OR json_valid(features)),
        PRIMARY KEY (family, id)
    ) STRICT
    """,
    """
    CREATE VIEW wheels AS
    SELECT
        sets.family,
        sets.id AS set_id,
        pair.key || '.' || CASE
            WHEN wheel.key = 0 THEN 'driver'
            WHEN wheel.key = json_array_length(pair.value) - 1 THEN 'driven'
            ELSE 'idler'
        END AS wheel,
        wheel.value AS teeth
    FROM sets, json_each(sets.teeth) AS pair, json_each(pair.value) AS wheel
    """,
    """
    CREATE VIEW printed_ratios AS
    SELECT
        sets.family,
        sets.id AS set_id,
        gear.key AS gear,
        gear.value AS printed,
        CAST(gear.value AS REAL) AS ratio
    FROM sets, json_each(sets.ratios) AS gear
    """,
)

_STOCK = (
    """
    CREATE TABLE items (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        kind TEXT NOT NULL CHECK (kind IN ('piece', 'pair', 'box')),
        seen TEXT NOT NULL,
        counts TEXT CHECK (counts IS NULL OR json_valid(counts)),
        turns TEXT CHECK (turns IS NULL OR json_valid(turns)),
        role TEXT NOT NULL,
        only_family TEXT NOT NULL,
        marks TEXT CHECK (marks IS NULL OR json_valid(marks)),
        features TEXT CHECK (features IS NULL OR json_valid(features)),
        condition TEXT NOT NULL,
        place TEXT NOT NULL,
        price TEXT,
        currency TEXT CHECK ((price IS NULL) = (currency IS NULL)),
        photo TEXT NOT NULL,
        note TEXT NOT NULL,
        added TEXT NOT NULL,
        changed TEXT NOT NULL,
        labelled TEXT,
        sold TEXT,
        sold_to TEXT,
        sold_price TEXT,
        sold_currency TEXT CHECK ((sold_price IS NULL) = (sold_currency IS NULL)),
        sold_note TEXT
    ) STRICT
    """,
    """
    CREATE TABLE item_answers (
        item INTEGER NOT NULL REFERENCES items (id) DEFERRABLE INITIALLY DEFERRED,
        moment TEXT NOT NULL CHECK (moment IN ('then', 'now')),
        name TEXT NOT NULL,
        verdict TEXT NOT NULL,
        family TEXT,
        piece TEXT,
        teeth TEXT CHECK (teeth IS NULL OR json_valid(teeth)),
        sets TEXT CHECK (sets IS NULL OR json_valid(sets)),
        probability REAL NOT NULL,
        away INTEGER,
        shares TEXT CHECK (shares IS NULL OR json_valid(shares)),
        catalog TEXT NOT NULL,
        entry INTEGER NOT NULL,
        at TEXT NOT NULL,
        PRIMARY KEY (item, moment)
    ) STRICT
    """,
    """
    CREATE VIEW item_wheels AS
    SELECT
        items.id AS item,
        json_extract(wheel.value, '$.place') AS place,
        json_extract(wheel.value, '$.wheel') AS wheel,
        json_extract(wheel.value, '$.teeth') AS teeth,
        json_extract(wheel.value, '$.unsure') AS unsure,
        json_extract(wheel.value, '$.times') AS times
    FROM items, json_each(items.counts) AS wheel
    """,
    """
    CREATE VIEW item_shares AS
    SELECT
        item_answers.item,
        item_answers.moment,
        json_extract(share.value, '$.family') AS family,
        json_extract(share.value, '$.piece') AS piece,
        json_extract(share.value, '$.teeth') AS teeth,
        json_extract(share.value, '$.sets') AS sets,
        json_extract(share.value, '$.probability') AS probability
    FROM item_answers, json_each(item_answers.shares) AS share
    """,
)

#: Each row has a digest of its content, each table (and each part of one, the sets of a family) the
#: number of its rows and what their digests come to. `upgrade` works them out behind every step.
_DIGESTS = (
    *(
        f"ALTER TABLE {table} ADD COLUMN digest INTEGER NOT NULL DEFAULT 0"
        for table in ("log", "changes", "families", "sets", "items", "item_answers")
    ),
    """
    CREATE TABLE totals (
        place TEXT NOT NULL,
        part TEXT NOT NULL,
        row_count INTEGER NOT NULL,
        digests INTEGER NOT NULL,
        PRIMARY KEY (place, part)
    ) STRICT, WITHOUT ROWID
    """,
)

_WANTS = (
    """
    CREATE TABLE wants (
        family TEXT NOT NULL,
        set_id TEXT NOT NULL,
        piece TEXT NOT NULL,
        up_to TEXT,
        currency TEXT CHECK ((up_to IS NULL) = (currency IS NULL)),
        noted TEXT NOT NULL,
        digest INTEGER NOT NULL DEFAULT 0,
        PRIMARY KEY (family, set_id, piece)
    ) STRICT
    """,
)

STEPS: tuple[Step, ...] = (
    Step(1, (*_LOG, *_CATALOG)),
    Step(2, _STOCK),
    Step(3, _DIGESTS),
    Step(4, _WANTS),
)


def latest(steps: Sequence[Step] = STEPS) -> int:
    """Return the version of the book that these steps lead to."""
    return steps[-1].version
