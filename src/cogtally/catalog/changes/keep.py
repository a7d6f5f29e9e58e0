"""Sets that go into the book one at a time, and families that are changed: checked, then written.

And a family or a set as text to be changed by hand. What is made of counts is left to `made`,
transactions to the store, the editor to the command line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cogtally.catalog import book as books
from cogtally.catalog.check import Entangled, check_between, check_draft, problem_of
from cogtally.catalog.draft import Draft
from cogtally.catalog.files import MOST_BYTES, TomlPlaces, read_toml, toml_of
from cogtally.catalog.find import did_you_mean, matching, splits
from cogtally.catalog.model import Catalog, Family, Named, RatioSet
from cogtally.catalog.problem import CatalogError, Finding, Problem, file_error
from cogtally.catalog.words import renew_words, write_words
from cogtally.gears.errors import UserError, shown, why_of


@dataclass(frozen=True, slots=True)
class Kept:
    """What was written into a book: how it differs from before, and what is odd about it.

    `made`: whether the book was made for it.
    """

    differences: tuple[books.Difference, ...]
    warnings: tuple[Problem, ...] = ()
    made: bool = False


def new_set_name(catalog: Catalog, text: str) -> tuple[Family | None, str, str]:
    """Part `FAMILY/SET`, a set that is not there yet: the family if it is known, its text, the id.

    Raises UserError where no stroke parts it, where several families are called that, or where the
    family has a set that is called that.
    """
    head, stroke, tail = text.partition("/")
    if not stroke or not head.strip() or not tail.strip():
        raise UserError("a set is named with its family", shown(text), "write FAMILY/SET")
    named = catalog.names
    found: Sequence[Named] = []
    for before, after in splits(text):
        found = matching(named, before)
        if found:
            head, tail = before, after
            break
    if len(found) > 1:
        ids = " or ".join(family.id for family in found)
        raise UserError("several families are called that", shown(head), f"say {ids}")
    family = catalog.by_id[found[0].id] if found else None
    if family is not None and matching(family.sets, tail):
        there = matching(family.sets, tail)[0].id
        mend = f"'cogtally catalog edit {family.id}/{there}' changes it"
        raise UserError(f"{family.id} has a set called that already", shown(tail), mend)
    return family, head.strip(), tail.strip()


def no_family(catalog: Catalog, text: str) -> UserError:
    """Return the error for a family that a set should go into and that is not there."""
    near = did_you_mean(text, [family.id for family in catalog.names])
    begin = "--layout LAYOUT of 'cogtally catalog add' begins a new one"
    mend = f"{near} {begin}" if near.endswith("?") else begin
    return UserError("no family of the book is called that", shown(text), mend)


def keep_set(
    path: Path,
    family: str | Family,
    known: RatioSet,
    what: str,
    *,
    entangled: Entangled | None = None,
) -> Kept:
    """Write one new set into the book at `path`, logged as `what`; all rules are met, or nothing.

    `family` is the id of one in the book, or a new family without sets, begun with this one; the
    book is made if there is none. Raises CatalogError for a set that breaks a rule, UserError where
    the family is not there (or a new one is) or the book cannot be written.
    """
    if isinstance(family, Family) and not path.exists():
        whole = replace(family, sets=(known,))
        warnings = _checked(whole, None, None, entangled)
        books.make_catalog_book(path, [whole], what)
        write_words(path)
        return Kept(_all_of(whole), warnings, made=True)
    with books.writing(path, what) as book:
        there = book.family(family.id if isinstance(family, Family) else family)
        if isinstance(family, Family):
            if there is not None:
                raise UserError("the book has that family already", family.id)
            whole = replace(family, sets=(known,))
        elif there is None:
            raise no_family(book.catalog(), family)
        else:
            whole = replace(there, sets=(*there.sets, known))
        warnings = _checked(whole, there, book, entangled)
        if there is None:
            book.put_family(whole)
        book.put_set(whole.id, known)
        after = book.state()
    renew_words(path, book.before, after, {whole.id: whole})
    if there is None:
        return Kept(_all_of(whole), warnings)
    return Kept((books.compare_sets(whole.id, None, known),), warnings)


def keep_family(
    path: Path, before: Family, after: Family, what: str, *, entangled: Entangled | None = None
) -> Kept:
    """Write a family of the book as it was changed, logged as `what`; by all rules, or not at all.

    `before` is what the change was made from: raises UserError where the book has it otherwise by
    now. Sets that `after` has no more are taken out. Raises CatalogError for a broken rule.
    """
    with books.writing(path, what) as book:
        if book.family(before.id) != before:
            mend = "look at it again, and make the change anew"
            raise UserError("the book was changed meanwhile", before.id, mend)
        if after.id != before.id and book.family(after.id) is not None:
            raise UserError("the book has another family of that id", after.id)
        warnings = _checked(after, before, book, entangled)
        _rewrite(book, before, after)
        state = book.state()
    renew_words(path, book.before, state, {before.id: None, after.id: after})
    return Kept(_changes(before, after), warnings)


def _rewrite(book: books.Book, before: Family, after: Family) -> None:
    """Write what differs; rows that stay as they are keep what somebody typed."""
    old = {known.id: known for known in before.sets}
    new = {known.id: known for known in after.sets}
    if after.id != before.id:
        place = book.change.row(books.FAMILIES, {"id": before.id})
        assert place is not None
        rows = {
            row["id"]: row["pairs"]
            for row in book.change.rows("SELECT id, pairs FROM sets WHERE family = ?", [before.id])
        }
        book.remove_family(before.id)
        book.change.put(books.FAMILIES, books.family_row(after, place["position"]))
        for number, known in enumerate(after.sets, start=1):
            row = books.set_row(after.id, known, number)
            if known == old.get(known.id):
                row = {**row, "pairs": rows[known.id]}
            book.change.put(books.SETS, row)
        return
    if books.compare_families(before, after).keys:
        book.put_family(after)
    for set_id in old:
        if set_id not in new:
            book.remove_set(before.id, set_id)
    for known in after.sets:
        if known != old.get(known.id):
            book.put_set(after.id, known)
    if [*(i for i in old if i in new), *(i for i in new if i not in old)] != list(new):
        for number, set_id in enumerate(new, start=1):
            book.change.put(books.SETS, {"family": after.id, "id": set_id, "position": number})


def _changes(before: Family, after: Family) -> tuple[books.Difference, ...]:
    if after.id != before.id:
        gone = [books.compare_families(before, None)]
        gone += [books.compare_sets(before.id, known, None) for known in before.sets]
        return (*gone, *_all_of(after))
    old = {known.id: known for known in before.sets}
    new = {known.id: known for known in after.sets}
    family = books.compare_families(before, after)
    sets = [
        books.compare_sets(after.id, old.get(set_id), new.get(set_id))
        for set_id in dict.fromkeys([*new, *old])
        if old.get(set_id) != new.get(set_id)
    ]
    return (*((family,) if family.keys else ()), *sets)


def _all_of(family: Family) -> tuple[books.Difference, ...]:
    return (
        books.compare_families(None, family),
        *(books.compare_sets(family.id, None, known) for known in family.sets),
    )


def _checked(
    family: Family, before: Family | None, book: books.Book | None, entangled: Entangled | None
) -> tuple[Problem, ...]:
    """Raise CatalogError if a family breaks a rule; return the warnings that it did not have."""
    found = _problems(family, before, book, entangled)
    if any(problem.is_error for problem in found):
        raise CatalogError(found)
    if before is None:
        return tuple(found)
    had = {_said(problem) for problem in _problems(before, before, book, None)}
    return tuple(problem for problem in found if _said(problem) not in had)


def _said(problem: Problem) -> tuple[str, str, str, str]:
    return (problem.code, problem.set, problem.key, problem.sentence)


def _problems(
    family: Family, before: Family | None, book: books.Book | None, entangled: Entangled | None
) -> list[Problem]:
    """All that is wrong with a family, beside the others of the book: they can share its marks."""
    draft = _as_read(family)
    found: list[Finding] = list(check_draft(draft, entangled=entangled))
    marks = {mark for known in family.sets for marks in known.marks.values() for mark in marks}
    others = [
        Draft(other)
        for other in (book.marked_families() if book is not None and marks else ())
        if (before is None or other.id != before.id)
        and any(marks.intersection(m) for known in other.sets for m in known.marks.values())
    ]
    beside = check_between([*others, draft])
    found += [finding for number, finding in beside if number == len(others)]
    return [problem_of(draft.family, finding) for finding in found]


def _as_read(family: Family) -> Draft:
    """The draft of a family as if it were read from its own text: every value is judged anew."""
    reading = read_toml(toml_of([family]), "")
    if reading.problems:
        raise CatalogError(reading.problems)
    return reading.drafts[0]


_SETS = "[[set]]"


@dataclass(frozen=True, slots=True)
class Editing:
    """What is edited: a family, or one set of it (`known`), and its text as it stands."""

    family: Family
    known: RatioSet | None
    text: str

    @property
    def subject(self) -> str:
        """The family, or family and set: `alder-4/wide`."""
        return self.family.id if self.known is None else f"{self.family.id}/{self.known.id}"


def to_edit(family: Family, known: RatioSet | None = None) -> Editing:
    """Return the text of a family with all its sets, or of one set (`known`) alone."""
    if known is None:
        return Editing(family, None, toml_of([family]))
    text = toml_of([replace(family, sets=(known,))])
    return Editing(family, known, text[text.index(f"\n{_SETS}\n") + 1 :])


def from_edited(
    editing: Editing, text: str, file: str, *, entangled: Entangled | None = None
) -> Family:
    """Return the family as an edited text has it; of one set, with the other sets beside it.

    Several sets in the text of one take its place together. Raises CatalogError with all errors,
    their lines those of the text, under the name `file`.
    """
    family, known, whole = editing.family, editing.known, text
    others: tuple[RatioSet, ...] = ()
    if known is not None:
        _refuse(_of_the_text_alone(text, file))
        others = tuple(one for one in family.sets if one is not known)
        # The rest of the family comes behind the text, so that the lines of this are its own.
        whole = f"{text}\n{toml_of([replace(family, sets=others)])}"
    reading, places = read_toml(whole, file), TomlPlaces(whole)
    problems = list(reading.problems)
    if len(reading.drafts) > 1:
        problems.append(_wrong(file, "several families stand in the text", "leave one of them"))
    for draft in reading.drafts[:1]:
        ids = [one.id for one in draft.family.sets]
        for finding in check_draft(draft, entangled=entangled):
            set_no = finding.set_no
            if known is not None and finding.code == "id-twice" and set_no is not None:
                # Said of the second of two: here that is a set behind the text, the first is in it.
                set_no = ids.index(ids[set_no])
            line = places.line(0, set_no, finding.key)
            problems.append(problem_of(draft.family, finding, file, line))
    if known is not None:
        problems = [_inside(problem, text.count("\n") + 1) for problem in problems]
    _refuse(problems)
    found = reading.drafts[0].family
    if known is None:
        return found
    place = next(number for number, one in enumerate(family.sets) if one is known)
    count = len(found.sets) - len(others)
    edited, rest = found.sets[:count], found.sets[count:]
    return replace(found, sets=(*rest[:place], *edited, *rest[place:]))


def read_text(path: Path) -> str:
    """Return the text of a file that was edited; raise UserError where it is none."""
    try:
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise UserError(f"it cannot be read: {why_of(error)}", str(path)) from None
    if len(data) > MOST_BYTES:
        raise UserError(f"the file is larger than {MOST_BYTES // 1_000_000} MB", str(path))
    return decoded(data, str(path))


def decoded(data: bytes, file: str) -> str:
    """Return bytes as text; raise CatalogError with the line where they are not UTF-8."""
    try:
        return data.decode("utf-8").removeprefix("\ufeff").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        sentence, mend = "the file is not UTF-8", "save it as text in UTF-8"
        raise CatalogError([file_error("not-utf8", file, sentence, mend, line)]) from None


def _of_the_text_alone(text: str, file: str) -> list[Problem]:
    """What is wrong with the text of a set before it is put beside the rest of the family."""
    import tomllib

    reading = read_toml(text, file)
    syntax = [problem for problem in reading.problems if problem.code in ("bad-toml", "too-deep")]
    if syntax:
        return syntax
    top = tomllib.loads(text)
    if "family" in top:
        line = TomlPlaces(text).line_of_top("family")
        sentence = "the text of one set says nothing of its family"
        return [_wrong(file, sentence, "take it out; 'edit FAMILY' changes a family", line)]
    if not isinstance(top.get("set"), list):
        return [_wrong(file, "there is no set in the text", f"write {_SETS} above its keys")]
    return []


def _inside(problem: Problem, last: int) -> Problem:
    """A problem behind the text has no line in it; one of the syntax stands at its end at most."""
    if problem.line is None or problem.line <= last:
        return problem
    syntax = problem.code == "bad-toml"
    return replace(problem, line=last if syntax else None, column=None)


def _wrong(file: str, sentence: str, mend: str, line: int | None = None) -> Problem:
    return file_error("wrong-kind", file, sentence, mend, line)


def _refuse(problems: Sequence[Problem]) -> None:
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
