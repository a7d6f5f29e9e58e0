"""Files into the book, as new, the same or changed, written as one; and the book into files.

Reading files is left to `files`, the rules to `check`, transactions to the store.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cogtally.catalog import book as books
from cogtally.catalog.check import Entangled, check_catalog
from cogtally.catalog.files import CSV, MOST_BYTES, TOML, csv_of, left_out_of_csv, toml_of
from cogtally.catalog.model import Catalog, Family
from cogtally.catalog.problem import CatalogError
from cogtally.gears.errors import UserError, few, why_of
from cogtally.store import refuse_there, write_whole


@dataclass(frozen=True, slots=True)
class Plan:
    """What an import comes to: how each family and each set that was read stands to the book."""

    read: Catalog
    families: tuple[books.Difference, ...]
    sets: tuple[books.Difference, ...]

    @property
    def changed(self) -> int:
        """How many families and sets of the book would be other than they are."""
        return sum(d.status == books.CHANGED for d in (*self.families, *self.sets))

    def counts(self) -> tuple[Counter[str], Counter[str]]:
        """Return how many families, and how many sets, are new, the same and changed."""
        return (
            Counter(difference.status for difference in self.families),
            Counter(difference.status for difference in self.sets),
        )


def plan_import(read: Catalog, known: Catalog, *, entangled: Entangled | None = None) -> Plan:
    """Compare what was read with what the book knows.

    A set of the book that was not read stays. Raises CatalogError where a family of the book,
    with what was read, would no longer meet the rules.
    """
    families: list[books.Difference] = []
    sets: list[books.Difference] = []
    together: list[Family] = []
    for family in read.families:
        there = known.by_id.get(family.id)
        families.append(books.compare_families(there, family))
        old = {} if there is None else {one.id: one for one in there.sets}
        own = [books.compare_sets(family.id, old.get(one.id), one) for one in family.sets]
        sets.extend(own)
        if there is not None and any(d.status != books.SAME for d in (families[-1], *own)):
            new = {one.id: one for one in family.sets}
            kept = tuple(new.pop(one.id, one) for one in there.sets)
            together.append(replace(family, sets=(*kept, *new.values())))
    wrong = check_catalog(Catalog(tuple(together)), entangled=entangled)
    if any(problem.is_error for problem in wrong):
        raise CatalogError(wrong)
    return Plan(read, tuple(families), tuple(sets))


def import_into(
    path: Path,
    read: Catalog,
    what: str,
    *,
    replaces: bool = False,
    dry_run: bool = False,
    entangled: Entangled | None = None,
) -> Plan:
    """Write what was read into the book at `path`, made if it is not there, logged as `what`.

    All of it or nothing. `dry_run`: nothing is written. Raises UserError where sets of the book
    would change and `replaces` does not say so, CatalogError as `plan_import` does.
    """
    if not path.exists():
        plan = plan_import(read, Catalog(()))
        if not dry_run:
            books.make_catalog_book(path, read.families, what)
        return plan
    if dry_run:
        return plan_import(read, books.read_book(path), entangled=entangled)
    with books.writing(path, what) as book:
        plan = plan_import(read, book.catalog(), entangled=entangled)
        if plan.changed and not replaces:
            both = (*plan.families, *plan.sets)
            other = few([each.subject for each in both if each.status == books.CHANGED])
            mend = "nothing was written; --dry-run shows what would change, --replace changes it"
            raise UserError(f"the book has these otherwise: {other}", mend=mend)
        _write(book, plan)
    return plan


def _write(book: books.Book, plan: Plan) -> None:
    status = {(d.family, d.set): d.status for d in (*plan.families, *plan.sets)}
    book.add_families([f for f in plan.read.families if status[f.id, ""] == books.NEW])
    for family in plan.read.families:
        if status[family.id, ""] == books.NEW:
            continue
        if status[family.id, ""] == books.CHANGED:
            book.put_family(family)
        for known in family.sets:
            if status[family.id, known.id] != books.SAME:
                book.put_set(family.id, known)


def named(paths: Sequence[str]) -> str:
    """Return the paths of an import as the log names them."""
    return few([Path(path).name or path for path in paths])


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
    refuse_there(list(texts), replaces)
    folder = path if not one_file else path.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"it cannot be written: {why_of(error)}", str(folder)) from error
    write_whole(texts, folder)
    return Exported(tuple(texts), _left_out(catalog, kind))


def _texts(catalog: Catalog, path: Path, kind: str, one_file: bool) -> dict[Path, bytes]:
    write = csv_of if kind == CSV else toml_of
    if one_file:
        data = write(catalog.families).encode("utf-8")
        if len(data) > MOST_BYTES:
            sentence = f"one file would be larger than {MOST_BYTES // 1_000_000} MB"
            raise UserError(sentence, str(path), "name a folder: one family a file")
        return {path: data}
    return {
        path / f"{family.id}{kind}": write([family]).encode("utf-8") for family in catalog.families
    }


def _left_out(catalog: Catalog, kind: str) -> dict[str, tuple[str, ...]]:
    if kind != CSV:
        return {}
    found = {family.id: left_out_of_csv(family) for family in catalog.families}
    return {family_id: what for family_id, what in found.items() if what}
