"""A family, or one set of it, as text to be changed by hand, and what comes back of it.

Writing it into the book is left to `keep`, the editor to the command line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cogtally.catalog.check import Entangled, check_draft, problem_of
from cogtally.catalog.draft import TomlPlaces
from cogtally.catalog.files import MOST_BYTES, read_toml, toml_of
from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.problem import ERROR, CatalogError, Problem
from cogtally.gears.errors import UserError

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
    if editing.known is None:
        return _whole(editing, text, file, entangled)
    return _one_set(editing, text, file, entangled)


def read_text(path: Path) -> str:
    """Return the text of a file that was edited; raise UserError where it is none."""
    try:
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UserError(f"it cannot be read: {reason[:1].lower()}{reason[1:]}", str(path)) from None
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
        problem = Problem(ERROR, "not-utf8", file, line, "", "", "", sentence, mend)
        raise CatalogError([problem]) from None


def _whole(editing: Editing, text: str, file: str, entangled: Entangled | None) -> Family:
    reading = read_toml(text, file)
    problems = list(reading.problems)
    if len(reading.drafts) > 1:
        problems.append(_wrong(file, "several families stand in the text", "leave one of them"))
    places = TomlPlaces(text)
    for draft in reading.drafts[:1]:
        for finding in check_draft(draft, entangled=entangled):
            line = places.line(0, finding.set_no, finding.key)
            problems.append(problem_of(draft.family, finding, file, line))
    _refuse(problems)
    return reading.drafts[0].family


def _one_set(editing: Editing, text: str, file: str, entangled: Entangled | None) -> Family:
    """The text comes first and the rest of the family behind it, so that its lines are its own."""
    assert editing.known is not None
    _refuse(_of_the_text_alone(text, file))
    family = editing.family
    others = tuple(known for known in family.sets if known is not editing.known)
    rest = toml_of([replace(family, sets=others)])
    whole = f"{text}\n{rest}"
    reading = read_toml(whole, file)
    last = text.count("\n") + 1
    problems = [_inside(problem, last) for problem in reading.problems]
    places = TomlPlaces(whole)
    for draft in reading.drafts[:1]:
        for finding in check_draft(draft, entangled=entangled):
            set_no = finding.set_no
            if finding.code == "id-twice" and set_no is not None:
                # Said of the second of two: here that is a set behind the text, the first is in it.
                ids = [known.id for known in draft.family.sets]
                set_no = ids.index(ids[set_no])
            line = places.line(0, set_no, finding.key)
            problems.append(_inside(problem_of(draft.family, finding, file, line), last))
    _refuse(problems)
    found = reading.drafts[0].family
    count = len(found.sets) - len(others)
    return replace(found, sets=_placed(family, editing.known, found.sets, count))


def _placed(
    family: Family, known: RatioSet, sets: Sequence[RatioSet], count: int
) -> tuple[RatioSet, ...]:
    """Put the first `count` sets where the edited one stood among the others."""
    place = next(number for number, one in enumerate(family.sets) if one is known)
    edited, others = tuple(sets[:count]), tuple(sets[count:])
    return (*others[:place], *edited, *others[place:])


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
    return Problem(ERROR, "wrong-kind", file, line, "", "", "", sentence, mend)


def _refuse(problems: Sequence[Problem]) -> None:
    if any(problem.is_error for problem in problems):
        raise CatalogError(problems)
