"""Bench sessions on the disk: one file each, one line an entry, safe the moment it is entered.

What the lines say is left to `record`, which folder the files stand in to whoever asks.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from cogtally.gears.errors import UserError
from cogtally.shelf.session.bench import Step
from cogtally.shelf.session.record import Asked, Session, is_record, lines_of, read_record

SUFFIX = ".jsonl"
#: A session is called after its day and its number on that day.
_ID = re.compile(r"\d{4}-\d{2}-\d{2}-\d{1,4}", re.ASCII)
MOST_A_DAY = 9999
#: More than this was not written at a bench.
MOST_BYTES = 10_000_000


def default_folder() -> Path:
    """Return where sessions stand unless another place is named: the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("cogtally", appauthor=False) / "sessions"


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
            reason = (error.strerror or str(error)).lower()
            raise UserError(
                f"{'the entry' if step else 'the session'} could not be kept: {reason}",
                str(self.path or self._folder),
                "mend that and enter it again; what was entered before is kept"
                if step
                else "nothing was asked yet; mend that and begin again",
            ) from error
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
                    _sync_folder(self._folder)
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
            if any(map(is_record, stream.read().splitlines(keepends=True))):
                raise UserError(
                    "this session was gone on with elsewhere",
                    self.id,
                    f"quit, and take it up again with --resume {self.id}",
                )
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
        reason = (error.strerror or str(error)).lower()
        raise UserError(f"the session cannot be deleted: {reason}", str(path)) from error


def _path(folder: Path, session_id: str) -> Path:
    path = folder / f"{session_id}{SUFFIX}"
    if not _ID.fullmatch(session_id) or not path.is_file():
        raise UserError(
            "there is no session called that",
            _shown(session_id),
            "'cogtally session --list' lists them",
        )
    return path


def read_session(folder: Path, session_id: str) -> Session:
    """Read the session of that id; raise UserError where there is none or it cannot be read."""
    path = _path(folder, session_id)
    try:
        with open(path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UserError(f"the session cannot be read: {reason}", str(path)) from error
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
    found.sort(key=lambda s: (s.last, _number(s.id)), reverse=True)
    return tuple(found), tuple(errors)


def last_session(folder: Path) -> Session:
    """Return the session that was entered to last; raise UserError where there is none."""
    sessions, errors = all_sessions(folder)
    if not sessions:
        if errors:
            raise errors[0]
        raise UserError("there is no session to resume", mend="'cogtally session' begins one")
    return sessions[0]


def _number(session_id: str) -> tuple[str, int]:
    day, _, number = session_id.rpartition("-")
    return day, int(number)


def _shown(text: str) -> str:
    from cogtally.gears.errors import shown

    return shown(text)


def _write_through(handle: int, text: bytes) -> None:
    """Write all of `text` and wait until it is on the disk."""
    left = memoryview(text)
    while left:
        left = left[os.write(handle, left) :]
    os.fsync(handle)


def _sync_folder(folder: Path) -> None:
    """See the name of a new file onto the disk; where a folder cannot be opened, trust it."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
