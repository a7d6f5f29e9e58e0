"""A catalog as files on the disk: one family a file in a folder, or all in one file.

The texts are left to `toml_writer` and `csv_writer`; export, import, export is the same to the
byte.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cogtally.catalog.files import CSV, MOST_BYTES, TOML
from cogtally.catalog.model import Catalog, Family
from cogtally.gears.errors import UserError
from cogtally.store import refuse_there, write_whole

FORMATS = ("toml", "csv")


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote: the files, and what a sheet had no place for, by family."""

    files: tuple[Path, ...]
    left_out: Mapping[str, tuple[str, ...]]


def export_catalog(
    catalog: Catalog, path: Path, form: str | None = None, *, replaces: bool = False
) -> Exported:
    """Write a catalog to `path`: one file if that ends in .toml or .csv, else a folder of files.

    `form` is `toml` or `csv`; without it the ending says, else it is TOML. All texts are made
    before the first is written, and each file appears whole. Raises UserError where a file is
    there already and `replaces` does not say so, where CSV would lose something, or where the
    disk does not take it.
    """
    ending = path.suffix.lower() if path.suffix.lower() in (TOML, CSV) else ""
    if form not in (None, *FORMATS):
        raise UserError("no such format", str(form), f"write {' or '.join(FORMATS)}")
    if ending and form is not None and ending != f".{form}":
        raise UserError(f"the name ends in {ending}, and {form} was asked for", str(path))
    kind = ending or f".{form or 'toml'}"
    if not catalog.families:
        raise UserError("the catalog is empty: there is nothing to write", catalog.name)
    one_file = bool(ending) and not path.is_dir()
    texts = _texts(catalog, path, kind, one_file)
    refuse_there(list(texts), replaces, "--replace")
    folder = path if not one_file else path.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UserError(f"it cannot be written: {reason}", str(folder)) from error
    write_whole(texts, folder)
    return Exported(tuple(texts), _left_out(catalog, kind))


def _texts(catalog: Catalog, path: Path, kind: str, one_file: bool) -> dict[Path, bytes]:
    write = _writer(kind)
    if one_file:
        data = write(catalog.families).encode("utf-8")
        if len(data) > MOST_BYTES:
            sentence = f"one file would be larger than {MOST_BYTES // 1_000_000} MB"
            raise UserError(sentence, str(path), "name a folder: one family a file")
        return {path: data}
    return {
        path / f"{family.id}{kind}": write([family]).encode("utf-8") for family in catalog.families
    }


def _writer(kind: str) -> Callable[[Sequence[Family]], str]:
    if kind == CSV:
        from cogtally.catalog.files import csv_of

        return csv_of
    from cogtally.catalog.files import toml_of

    return toml_of


def _left_out(catalog: Catalog, kind: str) -> dict[str, tuple[str, ...]]:
    if kind != CSV:
        return {}
    from cogtally.catalog.files import left_out_of_csv

    found = {family.id: left_out_of_csv(family) for family in catalog.families}
    return {family_id: what for family_id, what in found.items() if what}
