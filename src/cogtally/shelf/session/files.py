"""Bench sessions on the disk: one file each, one line an entry, safe the moment it is entered.

The first line says what was asked (`Asked`), each other one is a step (`bench.Step`), what the
answer was after it, or again what is asked from there on. A last line that a crash left half
written is not read. Which folder the files stand in is left to whoever asks.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zlib import crc32

from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError, shown, why_of
from cogtally.shelf.session.bench import ENDS, FEATURE, MARK, NAME, STEPS, Bench, Step
from cogtally.store import flush

FORMAT = 1
#: The key of a line under which the sum of all the others stands.
SUM = "sum"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a session is for: its `end`, and the catalog and the `family` that it asks about.

    `catalog`: the full path as the person gave it, empty for their own book and for the demo.
    `digest`: of all that the catalog held (`digest_of`). `family`: an id, empty for every family.
    `title`: what the session is called, customer and vehicle, empty where nobody said.
    """

    end: str
    catalog: str = ""
    demo: bool = False
    digest: str = ""
    family: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Session:
    """A session as its file has it: `begun` and `last` are when it was begun and last entered to.

    `bench` is where it stands, `size` where the last whole line of the file ends, `so_far` the
    answer in one line as it was last told, empty where none was. `entered`: how many entries there
    were, `torn`: how many lines were left out because a crash or a disk spoilt them.
    """

    id: str
    begun: str
    last: str
    asked: Asked
    bench: Bench
    size: int
    so_far: str = ""
    entered: int = 0
    torn: int = 0


def digest_of(catalog: Catalog) -> str:
    """Return a digest of all that a catalog holds; comments and the look of its files are not."""
    from hashlib import sha256

    return sha256(json.dumps(_plain(catalog.families)).encode()).hexdigest()


def lines_of(
    at: str, step: Step | None = None, asked: Asked | None = None, so_far: str | None = None
) -> bytes:
    """Return the lines to write `at` a moment: what is asked, a step, the answer so far, in order.

    Each is None where there is nothing of it to be written.
    """
    lines: list[dict[str, Any]] = []
    if asked is not None:
        lines.append({"asked": {"format": FORMAT, **asdict(asked)}})
    if step is not None:
        told = {"step": step.kind, "words": list(step.words), "of": step.of}
        lines.append({key: value for key, value in told.items() if value})
    if so_far is not None:
        lines.append({"so_far": so_far})
    # A sum at the end of each: a bit that flips on the disk is no other count.
    dated = [{"at": at, **line} for line in lines]
    summed = [{**line, SUM: crc32(json.dumps(line).encode())} for line in dated]
    return "".join(json.dumps(line) + "\n" for line in summed).encode()


def read_record(session_id: str, data: bytes, file: str) -> Session:
    """Return the session that the whole lines in `data` tell; what is torn is left out.

    Raises UserError, which names the `file`, where no line is whole or one is of a later version.
    """
    *lines, half = data.split(b"\n")
    asked: Asked | None = None
    bench = Bench()
    begun = last = so_far = ""
    size = at = entered = 0
    torn = int(bool(half))
    for number, line in enumerate(lines, 1):
        at += len(line) + 1
        record = _whole(line)
        if record is None:
            torn += 1
            continue
        try:
            last = str(record["at"])
            if "asked" in record:
                asked = _asked(record["asked"])
                bench = replace(bench, end=asked.end)
            elif "so_far" in record:
                so_far = str(record["so_far"])
            else:
                bench = bench.after(_step(record))
                entered += 1
        except (ValueError, KeyError, TypeError, AttributeError, UserError) as error:
            sentence = "the session cannot be read: this line is no entry that this version knows"
            raise UserError(sentence, f"{file}, line {number}") from error
        begun = begun or last
        size = at
    if not size:
        mend = "nothing was entered into it, or its disk lost it: take the file away"
        raise UserError("nothing of this session can be read", file, mend)
    # Where the line that says what was asked is torn, the entries are as good as ever.
    asked = asked or Asked(NAME)
    return Session(session_id, begun, last, asked, bench, size, so_far, entered, torn)


def _whole(text: bytes) -> dict[str, Any] | None:
    """What a line says; None where it is not as it was written. Lines of before had no sum."""
    try:
        line = json.loads(text)
        told = line.pop(SUM, None)
        return line if told in (None, crc32(json.dumps(line).encode())) else None
    except (ValueError, RecursionError, AttributeError, TypeError):
        return None


def _asked(told: Mapping[str, Any]) -> Asked:
    if told["format"] > FORMAT:
        raise ValueError("written by a later version")
    end, catalog, digest, family = (str(told[k]) for k in ("end", "catalog", "digest", "family"))
    asked = Asked(end, catalog, bool(told["demo"]), digest, family, str(told.get("title", "")))
    if asked.end not in ENDS:
        raise ValueError(asked.end)
    return asked


def _step(told: Mapping[str, Any]) -> Step:
    step = Step(str(told["step"]), tuple(map(str, told.get("words", ()))), str(told.get("of", "")))
    if step.kind not in STEPS:
        raise ValueError(step.kind)
    if step.kind in (MARK, FEATURE) and len(step.words) != 1:
        raise ValueError(step.words)
    return step


def _plain(value: Any) -> Any:
    """Return families and sets as plain lists and texts, for a digest."""
    if hasattr(value, "__dataclass_fields__"):
        return [_plain(getattr(value, name)) for name in value.__dataclass_fields__]
    if isinstance(value, Mapping):
        return [[key, _plain(item)] for key, item in value.items()]
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    return value


SUFFIX = ".jsonl"
#: A session is called after its day and its number on that day.
_ID = re.compile(r"\d{4}-\d{2}-\d{2}-\d{1,4}", re.ASCII)
MOST_A_DAY = 9999
#: More than this was not written at a bench.
MOST_BYTES = 10_000_000


class SessionFile:
    """The open end of one session: what is entered is on the disk before the next question.

    What is asked is there before the first question, so that a disk that takes nothing is told
    before anything is counted; a session that ends without an entry leaves nothing.
    """

    def __init__(
        self,
        folder: Path,
        asked: Asked,
        session: Session | None = None,
        now: Callable[[], datetime] = datetime.now,
    ) -> None:
        self._folder = folder
        self._now = now
        self._asked = asked
        self._said = session.asked if session is not None else None
        self._size = session.size if session is not None else 0
        self._is_new = False
        self.id = session.id if session is not None else ""

    @property
    def path(self) -> Path | None:
        """The file; None while nothing was entered."""
        return self._folder / f"{self.id}{SUFFIX}" if self.id else None

    def begin(self) -> None:
        """Write what is asked of a new session; raise UserError where that cannot be done."""
        if self.path is None:
            self._keep(asked=self._asked)
            self._said = self._asked
            self._is_new = True

    def end(self) -> None:
        """Take the file of a session away that was begun and into which nothing was entered."""
        if self._is_new and self.path is not None:
            with suppress(OSError):
                self.path.unlink()
                # Only where nothing else stands in it.
                self._folder.rmdir()
            self.id = ""

    def keep(self, step: Step) -> None:
        """Write one step and see it onto the disk; raise UserError where that cannot be done."""
        self._keep(step, None if self._said == self._asked else self._asked)
        self._said = self._asked
        self._is_new = False

    def keep_title(self) -> None:
        """Write what a session that is taken up again is called, where that is another title."""
        if self._said is not None and self._said.title != self._asked.title:
            self._said = replace(self._said, title=self._asked.title)
            self._keep(asked=self._said)

    def keep_answer(self, so_far: str) -> None:
        """Write the answer so far in one line, for the list; where the disk is full, nothing."""
        if self.path is not None and not self._is_new:
            with suppress(UserError):
                self._keep(so_far=so_far)

    def _keep(
        self, step: Step | None = None, asked: Asked | None = None, so_far: str | None = None
    ) -> None:
        at = self._now().isoformat(timespec="milliseconds")
        text = lines_of(at, step, asked, so_far)
        try:
            if self.path is None:
                self._begin(text)
            else:
                self._append(self.path, text)
        except OSError as error:
            what, mend = "the session", "nothing was asked yet; mend that and begin again"
            if step:
                what = "the entry"
                mend = "mend that and enter it again; what was entered before is kept"
            sentence = f"{what} could not be kept: {why_of(error)}"
            raise UserError(sentence, str(self.path or self._folder), mend) from error
        self._size += len(text)

    def _begin(self, text: bytes) -> None:
        """Make the file under the first free number of the day."""
        self._folder.mkdir(parents=True, exist_ok=True)
        day = self._now().date().isoformat()
        for number in range(1, MOST_A_DAY + 1):
            path = self._folder / f"{day}-{number}{SUFFIX}"
            with suppress(FileExistsError), open(path, "xb", buffering=0) as stream:
                try:
                    _write_through(stream.fileno(), text)
                    # Where the name of a file cannot be seen onto the disk, that is trusted.
                    with suppress(OSError):
                        flush(self._folder)
                except OSError:
                    with suppress(OSError):
                        path.unlink()
                    raise
                self.id = path.stem
                return
        raise UserError("so many sessions were begun today that no number is left")

    def _append(self, path: Path, text: bytes) -> None:
        with open(path, "r+b", buffering=0) as stream:
            stream.seek(self._size)
            *more, _ = stream.read().split(b"\n")
            if any(_whole(line) is not None for line in more):
                mend = f"quit, and take it up again with --resume {self.id}"
                raise UserError("this session was gone on with elsewhere", self.id, mend)
            # What a crash left half written is cut off, and so is what a full disk leaves now.
            stream.truncate(self._size)
            stream.seek(self._size)
            try:
                _write_through(stream.fileno(), text)
            except OSError:
                stream.truncate(self._size)
                raise


def delete_session(folder: Path, session_id: str) -> None:
    """Take the session of that id off the disk; raise UserError where that cannot be done."""
    path = _path(folder, session_id)
    try:
        path.unlink()
    except OSError as error:
        raise UserError(f"the session cannot be deleted: {why_of(error)}", str(path)) from error


def _path(folder: Path, session_id: str) -> Path:
    path = folder / f"{session_id}{SUFFIX}"
    if not _ID.fullmatch(session_id) or not path.is_file():
        mend = "'cogtally session --list' lists them"
        raise UserError("there is no session called that", shown(session_id), mend)
    return path


def read_session(folder: Path, session_id: str) -> Session:
    """Read the session of that id; raise UserError where there is none or it cannot be read."""
    path = _path(folder, session_id)
    try:
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise UserError(f"the session cannot be read: {why_of(error)}", str(path)) from error
    if len(data) > MOST_BYTES:
        raise UserError("this is no session: it is far too big", str(path))
    return read_record(session_id, data, str(path))


def all_sessions(folder: Path) -> tuple[tuple[Session, ...], tuple[UserError, ...]]:
    """Return every session, the last entered to first, and what cannot be read of the others."""
    found: list[Session] = []
    errors: list[UserError] = []
    for path in sorted(folder.glob(f"*{SUFFIX}")) if folder.is_dir() else ():
        if _ID.fullmatch(path.stem):
            try:
                session = read_session(folder, path.stem)
                # One that was begun and no more, or is begun just now, is none to go on with.
                found += [session] if session.entered else []
            except UserError as error:
                errors.append(error)
    # Of a day by number: `…-10` stands behind `…-9`.
    found.sort(key=lambda s: (s.last, s.id[:10], int(s.id[11:])), reverse=True)
    return tuple(found), tuple(errors)


def last_session(folder: Path) -> Session:
    """Return the session that was entered to last; raise UserError where there is none."""
    sessions, errors = all_sessions(folder)
    if not sessions:
        if errors:
            raise errors[0]
        raise UserError("there is no session to resume", mend="'cogtally session' begins one")
    return sessions[0]


def _write_through(handle: int, text: bytes) -> None:
    """Write all of `text` and wait until it is on the disk."""
    left = memoryview(text)
    while left:
        left = left[os.write(handle, left) :]
    os.fsync(handle)
