"""A catalog in files: TOML and CSV, read and written; the demo that ships with the program.

Leaves the rules to `check`, the book to `book`.
"""

from cogtally.catalog.files.csv import SEPARATORS, Fault, count_in, looks_like_date
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
from cogtally.catalog.files.writers import csv_of, left_out_of_csv, toml_of

__all__ = [
    "CSV",
    "MOST_BYTES",
    "SEPARATORS",
    "TOML",
    "Fault",
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
