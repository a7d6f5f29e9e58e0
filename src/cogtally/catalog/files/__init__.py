"""A catalog in files: TOML and CSV, read and written; the demo that ships with the program.

Leaves the rules to `check`, the book to `book`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from cogtally.catalog.files.reading import (
    CSV,
    MOST_BYTES,
    TOML,
    demo_catalog,
    load_catalog,
    read_catalog,
    read_catalogs,
)
from cogtally.catalog.files.toml import TomlPlaces, read_toml

if TYPE_CHECKING:
    from cogtally.catalog.files.csv import SEPARATORS, count_in, looks_like_date
    from cogtally.catalog.files.writers import csv_of, left_out_of_csv, toml_of

__all__ = [
    "CSV",
    "MOST_BYTES",
    "SEPARATORS",
    "TOML",
    "TomlPlaces",
    "count_in",
    "csv_of",
    "demo_catalog",
    "left_out_of_csv",
    "load_catalog",
    "looks_like_date",
    "read_catalog",
    "read_catalogs",
    "read_toml",
    "toml_of",
]

#: What a command that reads TOML does without, loaded with the first name of it that is asked for.
_LATER = {
    "csv": ("SEPARATORS", "count_in", "looks_like_date"),
    "writers": ("csv_of", "left_out_of_csv", "toml_of"),
}


def __getattr__(name: str) -> object:
    for module, names in _LATER.items():
        if name in names:
            return getattr(import_module(f"cogtally.catalog.files.{module}"), name)
    raise AttributeError(f"module '{__name__}' has no attribute '{name}'")
