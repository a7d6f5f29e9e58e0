"""Sessions on the disk: whatever happens to the file, what was entered before is there."""

import json
import os
import signal
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError
from cogtally.shelf.session import files as record
from cogtally.shelf.session.bench import (
    BACK,
    FEATURE,
    MARK,
    NAME,
    SEEN,
    SKIP,
    SURE,
    TAKE,
    Bench,
    Step,
)
from cogtally.shelf.session.files import (
    Asked,
    SessionFile,
    all_sessions,
    digest_of,
    last_session,
    read_session,
)
from small_catalog import BIRCH, SMALL
from store.killing import in_process

ASKED = Asked(NAME, catalog="/shop/boxes für.toml", digest="d1", family="birch-4")
COUNTED = Step(SEEN, ("1.driven=36", "3=27u/24x2"))
STEPS = (
    COUNTED,
    Step(SKIP, of="R.idler"),
    Step(TAKE, of="1@7"),
    Step(BACK),
    Step(SEEN, ("2.driven=30",)),
    Step(MARK, ("laygear:LG 3?02*",)),
    Step(FEATURE, ("3.driver.hand=left",)),
)


def clock(start: str = "2026-03-05T10:00:00") -> Callable[[], datetime]:
    """A clock that is a minute later each time."""
    moments = (datetime.fromisoformat(start) + timedelta(minutes=n) for n in range(10**6))
    return lambda: next(moments)


def kept(
    folder: Path, *steps: Step, asked: Asked = ASKED, start: str = "2026-03-05T10:00:00"
) -> SessionFile:
    file = SessionFile(folder, asked, now=clock(start))
    for step in steps:
        file.keep(step)
    return file


def replayed(*steps: Step, end: str = NAME) -> Bench:
    bench = Bench(end)
    for step in steps:
        bench = bench.after(step)
    return bench


def test_a_session_is_read_as_it_was_kept(tmp_path):
    """All that was entered, and what was asked, comes back from the disk."""
    session = read_session(tmp_path, kept(tmp_path, *STEPS).id)
    assert session.asked == ASKED
    assert session.bench == replayed(*STEPS)


def test_a_session_kept_before_there_were_marks_is_read(tmp_path):
    """The lines that earlier versions wrote tell the session that they told then."""
    asked = {"format": 1, "end": "name", "catalog": "", "demo": True, "digest": "d", "family": ""}
    lines = [
        {"at": "2026-03-05T10:00:00.000", "asked": asked},
        {"at": "2026-03-05T10:00:00.000", "step": "seen", "words": ["1=14/31"]},
        {"at": "2026-03-05T10:01:00.000", "step": "skip", "of": "R.idler"},
    ]
    text = "".join(json.dumps(line) + "\n" for line in lines)
    (tmp_path / "2026-03-05-1.jsonl").write_text(text, encoding="utf-8")
    bench = read_session(tmp_path, "2026-03-05-1").bench
    assert (bench.words, bench.marks, bench.features) == (("1=14/31",), (), ())
    assert bench.skipped == {"R.idler"}


def test_an_entry_is_seen_onto_the_disk(tmp_path, monkeypatch):
    """Each entry is waited for until the disk has it."""
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", synced.append)
    file = kept(tmp_path, COUNTED)
    before = len(synced)
    file.keep(COUNTED)
    assert before > 0
    assert len(synced) == before + 1


def test_sessions_are_numbered_by_day(tmp_path):
    """Each session gets the first free number of its day."""
    assert kept(tmp_path, COUNTED).id == "2026-03-05-1"
    assert kept(tmp_path, COUNTED).id == "2026-03-05-2"
    assert kept(tmp_path, COUNTED, start="2026-03-06T09:00:00").id == "2026-03-06-1"


def test_a_disk_without_links_will_do(tmp_path, monkeypatch):
    """Where files cannot be linked a session is made all the same, over no other."""

    def no_links(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "link", no_links)
    first, second = kept(tmp_path, COUNTED), kept(tmp_path, *STEPS)
    assert read_session(tmp_path, first.id).bench == replayed(COUNTED)
    assert read_session(tmp_path, second.id).bench == replayed(*STEPS)
    assert sorted(tmp_path.iterdir()) == [first.path, second.path]


@given(data=st.data())
def test_a_file_cut_anywhere_holds_what_came_before(tmp_path_factory, data):
    """Cut short at any byte behind the first line, a session is that of some of its entries."""
    folder = tmp_path_factory.mktemp("cut")
    file = kept(folder, *STEPS)
    whole = file.path.read_bytes()
    first = whole.index(b"\n") + 1
    cut = data.draw(st.integers(first, len(whole)))
    file.path.write_bytes(whole[:cut])
    lines = whole[:cut].count(b"\n") - 1
    session = read_session(folder, file.id)
    assert session.bench == replayed(*STEPS[:lines])
    resumed = SessionFile(folder, ASKED, session, now=clock())
    resumed.keep(COUNTED)
    assert read_session(folder, file.id).bench == replayed(*STEPS[:lines], COUNTED)


def test_a_last_line_of_noise_is_dropped(tmp_path):
    """A whole last line that is no JSON, as after a flat battery, is left out and then cut off."""
    file = kept(tmp_path, COUNTED)
    with open(file.path, "ab") as stream:
        stream.write(b"\0\0\0\0\n")
    session = read_session(tmp_path, file.id)
    assert session.bench == replayed(COUNTED)
    SessionFile(tmp_path, ASKED, session).keep(STEPS[1])
    assert b"\0" not in file.path.read_bytes()


def test_what_was_asked_is_written_once(tmp_path):
    """Going on with the same request adds nothing but steps; another request is added."""
    file = kept(tmp_path, COUNTED)
    session = read_session(tmp_path, file.id)
    SessionFile(tmp_path, ASKED, session).keep(COUNTED)
    assert file.path.read_text().count('"asked"') == 1
    session = read_session(tmp_path, file.id)
    SessionFile(tmp_path, replace(ASKED, end=SURE), session).keep(COUNTED)
    session = read_session(tmp_path, file.id)
    assert session.asked.end == session.bench.end == SURE
    assert len(session.bench.words) == 6


def test_two_who_go_on_with_one_session_do_not_mix(tmp_path):
    """An entry to a session that somebody else entered to meanwhile is refused."""
    file = kept(tmp_path, COUNTED)
    other = SessionFile(tmp_path, ASKED, read_session(tmp_path, file.id))
    other.keep(STEPS[1])
    with pytest.raises(UserError, match="gone on with elsewhere"):
        file.keep(STEPS[2])
    assert read_session(tmp_path, file.id).bench == replayed(COUNTED, STEPS[1])


def test_a_full_disk_is_said_and_loses_nothing(tmp_path, monkeypatch):
    """An entry that the disk does not take is refused; what came before and after it stays."""
    file = kept(tmp_path, COUNTED)
    real = os.write

    def half(handle: int, data: bytes) -> int:
        real(handle, bytes(data)[:9])
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", half)
        with pytest.raises(UserError, match="could not be kept: no space left on device"):
            file.keep(STEPS[1])
    assert read_session(tmp_path, file.id).bench == replayed(COUNTED)
    file.keep(STEPS[2])
    assert read_session(tmp_path, file.id).bench == replayed(COUNTED, STEPS[2])


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    """Where no folder can be made the first entry is refused in one line."""
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError, match="could not be kept"):
        SessionFile(tmp_path / "file" / "sessions", ASKED).keep(COUNTED)


def test_the_last_session_is_the_one_entered_to_last(tmp_path):
    """Sessions are listed by their last entry, the latest first."""
    first = kept(tmp_path, COUNTED, start="2026-03-05T10:00:00")
    second = kept(tmp_path, COUNTED, start="2026-03-05T11:00:00")
    assert last_session(tmp_path).id == second.id
    session = read_session(tmp_path, first.id)
    SessionFile(tmp_path, ASKED, session, now=clock("2026-03-05T12:00:00")).keep(COUNTED)
    assert [s.id for s in all_sessions(tmp_path)[0]] == [first.id, second.id]


def test_a_session_that_cannot_be_read_does_not_hide_the_others(tmp_path):
    """The list has every session that can be read, and says which cannot."""
    good, bad = kept(tmp_path, COUNTED), kept(tmp_path, COUNTED)
    bad.path.write_text("noise\n")
    found, errors = all_sessions(tmp_path)
    assert [s.id for s in found] == [good.id]
    assert [error.place for error in errors] == [str(bad.path)]


@pytest.mark.parametrize("session_id", ["2026-03-05-7", "../2026-03-05-1", "", "x", "٢٠٢٦-03-05-1"])
def test_a_session_that_is_not_there_is_said(tmp_path, session_id):
    """No other name than that of a session in the folder is ever opened."""
    kept(tmp_path, COUNTED)
    with pytest.raises(UserError, match="no session called that"):
        read_session(tmp_path, session_id)


@pytest.mark.parametrize(
    "line",
    [
        {"at": "x", "step": "dance"},
        {"at": "x", "step": "mark", "words": ["LG*"]},
        {"at": "x", "step": "mark"},
        {"at": "x", "step": "feature", "words": ["laygear.charm=1"]},
        {"at": "x", "step": "seen", "words": ["3.driven=9999"]},
        {"at": "x", "asked": {"format": record.FORMAT + 1}},
        {"step": "skip"},
    ],
)
def test_a_line_of_a_later_version_is_refused_not_dropped(tmp_path, line):
    """A whole line that is not understood stops the reading, at the end of the file too."""
    file = kept(tmp_path, COUNTED)
    with open(file.path, "a") as stream:
        stream.write(json.dumps(line) + "\n")
    before = file.path.read_bytes()
    with pytest.raises(UserError) as caught:
        read_session(tmp_path, file.id)
    assert caught.value.place == f"{file.path}, line 3"
    assert file.path.read_bytes() == before


def test_a_digest_tells_what_a_catalog_holds():
    """The digest stays for an equal catalog and changes with one tooth, mark or commonness."""
    same = Catalog(tuple(replace(family) for family in SMALL.families), name="other name")
    assert digest_of(same) == digest_of(SMALL)
    first, *others = BIRCH.sets
    for changed in (
        replace(first, commonness=9),
        replace(first, marks={"laygear": ("LG 1",)}),
        replace(first, pairs={**first.pairs, "1": (15, 37)}),
    ):
        family = replace(BIRCH, sets=(changed, *others))
        assert digest_of(Catalog((family, *SMALL.families[1:]))) != digest_of(SMALL)


@pytest.mark.parametrize("times", [6, pytest.param(60, marks=pytest.mark.long)])
def test_killed_at_any_moment(tmp_path, times):
    """A session that is killed has every entry that was kept, and at most the one being written."""
    random = Random(3)
    for number in range(times):
        folder = tmp_path / str(number)
        reads, writes = os.pipe()

        def enter(folder: Path = folder, writes: int = writes) -> None:
            file = SessionFile(folder, Asked(NAME))
            file.begin()
            for entered in range(400):
                file.keep(Step("seen", (f"1.driver={14 + entered % 100}",)))
                os.write(writes, b".")

        process = in_process(enter)
        os.read(reads, 1)
        time.sleep(random.uniform(0, 0.05))
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        os.close(writes)
        entered = 1 + len(os.read(reads, 1_000))
        os.close(reads)
        session = last_session(folder)
        assert session.entered in (entered, entered + 1)
        SessionFile(folder, session.asked, session).keep(Step("skip", of="2.driven"))
        assert last_session(folder).entered == session.entered + 1


def test_torn_lines_are_left_out(tmp_path):
    """Of a file with torn and flipped lines all that is whole is read, the first line or not."""
    file = kept(tmp_path, *[COUNTED] * 3)
    lines = file.path.read_bytes().splitlines(keepends=True)
    for spoilt in range(len(lines)):
        torn = [*lines]
        torn[spoilt] = (
            lines[spoilt].replace(b"1.driven=36", b"1.driven=37").replace(b'"at"', b'"aT"')
        )
        file.path.write_bytes(b"".join(torn) + b'{"at": "20')
        session = read_session(tmp_path, file.id)
        assert (session.torn, session.entered) == (2, len(lines) - 1 - (spoilt > 0))
        assert len(session.bench.steps) == session.entered


def test_nothing_is_left_of_a_session_without_entries(tmp_path):
    """What is asked is on the disk before the first question, and goes where nothing is entered."""
    file = SessionFile(tmp_path / "sessions", Asked(NAME))
    file.begin()
    assert file.path.read_bytes().count(b"asked") == 1
    assert all_sessions(tmp_path / "sessions") == ((), ())
    file.end()
    assert list(tmp_path.iterdir()) == []
