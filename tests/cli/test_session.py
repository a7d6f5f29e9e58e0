"""`cogtally session` as a person and as a script drive it, and what is left after each end."""

import io
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.book_of import birch_file
from cli.terminal import Terminal
from cogtally.catalog.model import RatioSet
from cogtally.gears.trains import wheel_names
from conftest import Ran, refused
from small_catalog import BIRCH, pairs

TOURING = RatioSet(
    "touring",
    "Touring",
    pairs(input="20/31", g1="15/36", g2="21/30", g3="30/21", R="14/18/32"),
    source="counted on the bench",
)
EARLY = {
    wheel: str(teeth)
    for pair, counts in BIRCH.sets[0].pairs.items()
    for wheel, teeth in zip(wheel_names(pair, len(counts)), counts, strict=True)
}


@pytest.fixture
def catalog(tmp_path) -> str:
    return str(birch_file(tmp_path, TOURING))


@pytest.fixture
def script(cogtally, catalog, folder, monkeypatch) -> Callable[..., Ran]:
    """Run a session in this process, each line an entry, then the end of input."""

    def run(*lines: str, words: tuple[str, ...] = (), asks: bool = True, columns: int = 100) -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        asked = ("--catalog", catalog) if asks else ()
        return cogtally("session", *words, *asked, columns=columns)

    return run


def questions(ran: Ran) -> list[str]:
    """What was asked, in order."""
    return re.findall(r"^(\S+)> ", ran.err, re.MULTILINE)


def only_id(folder: Path) -> str:
    (file,) = folder.iterdir()
    return file.stem


def truthful(run: Callable[..., Ran], *words: str, answers: dict[str, str] = EARLY) -> Ran:
    """Run the session again and again, each time one true answer further, until it ends."""
    lines: list[str] = []
    while True:
        ran = run(*lines, words=words)
        asked = questions(ran)
        if len(asked) == len(lines):
            return ran
        lines.append(answers[asked[-1]])
        assert len(lines) < 30


def test_a_session_to_name_the_box_ends_at_the_name(script):
    """True counts lead to the set in fewer counts than it has wheels, and the session says why."""
    ran = truthful(script)
    assert ran.code == 0
    assert len(questions(ran)) < len(EARLY)
    assert "Settled: this answer has reached 90 %." in ran.err
    assert "birch-4/early" in ran.out


def test_a_session_to_be_sure_counts_every_piece(script):
    """To be sure, a wheel of every piece is asked for, and the whole box is then answered for."""
    ran = truthful(script, "--sure")
    assert "Every piece has a count." in ran.err
    asked = questions(ran)
    assert {"input.driver", "1.driven", "2.driven", "3.driven", "R.idler", "R.driven"} <= {*asked}
    assert len(asked) == len(set(asked)) == 7


def test_every_entry_moves_the_answer_in_one_line(script):
    """Each thing seen is said back on standard output with the answer and how it moved."""
    ran = script("R.driver=14", "3=27/24", columns=100)
    first, second = ran.out.splitlines()[:2]
    moved = r"R\.driver=14: birch-4, early, sport or touring, \S+ %; nothing was counted before"
    assert re.fullmatch(moved, first)
    assert re.fullmatch(
        r"3=27/24: birch-4/early, [^;]+ %; was early, sport or touring, \S+ %", second
    )


def test_it_ends_in_the_answer_of_identify(script, cogtally, catalog):
    """The one-line command at the end gives the very answer that the session ended in."""
    seen = ("R.driver=14", "3=27/24u", "1@4:1.66", "2.driven=30x2")
    ran = script(*seen, "quit", words=("--sure",))
    line = next(line for line in ran.out.splitlines() if line.startswith("cogtally identify"))
    assert line.split() == ["cogtally", "identify", "--catalog", catalog, *seen]
    answer = cogtally(*line.split()[1:], columns=100).out
    assert answer.strip()
    assert answer in ran.out


def test_json_has_standard_output_for_itself(script, cogtally, catalog):
    """With --json the answer alone stands on standard output, as identify gives it."""
    ran = script("R.driver=14", "3=27/24", words=("--json",))
    asked = cogtally("identify", "--catalog", catalog, "R.driver=14", "3=27/24", "--json")
    assert _read(ran.out) == _read(asked.out)
    assert "R.driver=14: birch-4" in ran.err


def _read(text: str) -> object:
    """What a JSON text holds, its numbers to twelve decimals: sums may be done in another order."""
    return json.loads(text, parse_float=lambda number: round(float(number), 12))


def test_a_mistake_is_said_and_asked_again(script):
    """A line that is not understood costs one line, and the same question stands."""
    ran = script("14O", "R.driver=14")
    first, second = questions(ran)[:2]
    assert first == second
    assert "14O: at character 3 read 'O': nothing more was expected" in ran.err
    assert ran.code == 0


def test_skip_asks_for_another_wheel(script):
    """A wheel that cannot be seen is not asked for again in that session, resumed or not."""
    ran = script("skip", "skip")
    assert len(set(questions(ran))) == 3
    again = script(words=("--resume",), asks=False)
    assert questions(again) == questions(ran)[-1:]


def test_again_asks_for_the_last_wheel_and_counts_both(script):
    """A recount stands beside the count before it."""
    ran = script("R.driver=14", "again", "15")
    assert questions(ran)[2] == "R.driver"
    assert "Count R.driver again (14 so far)" in ran.err
    assert "R.driver=14 R.driver=15" in ran.out


def test_a_turn_test_can_be_asked_for(script):
    """The turn test worth most is asked for as gear and turns, and a bare reading answers it."""
    ran = script("R.driver=14", "turn", "4.5")
    asked = questions(ran)[2]
    assert re.fullmatch(r"[1-4R]@\d+", asked)
    assert f"{asked}:4.5: " in ran.out


def test_how_is_there_to_be_asked(script):
    """How tells of chalk, the hole and the missing tooth, at a turn test of that test."""
    told = script("how").err
    for word in ("Chalk one tooth", "inspection hole", "A missing or broken tooth counts"):
        assert word in told
    told = " ".join(script("R.driver=14", "turn", "how").err.split())
    assert "Chalk the input shaft and the output" in told
    assert "by hand, in one direction" in told


def test_the_end_of_input_ends_it_with_the_answer(script):
    """A script that just stops gets the answer to what it entered, what was taken back left out."""
    ran = script("R.driver=14", "3.driven=66", "back")
    assert ran.code == 0
    assert "Taken back: 3.driven=66. Now birch-4, early, sport or touring" in ran.out
    assert "Birch four-speed (birch-4), set" in ran.out
    assert ran.out.rstrip().endswith("R.driver=14")
    assert "The session is kept." in ran.err


def test_a_session_without_entries_leaves_nothing(script, folder):
    """Quitting at once is no answer, and nothing is kept."""
    ran = script("?", "quit")
    assert (ran.code, ran.out) == (0, "")
    assert "nothing is kept" in ran.err
    assert not folder.exists()


def test_a_session_goes_on_where_it_stopped(script, folder):
    """Resumed by its name, a session ends in the same bytes as one that never stopped."""
    script("R.driver=14", "3.driver")
    resumed = script("27u", "2.driven=30", words=("--resume", only_id(folder)), asks=False)
    assert "Seen so far: R.driver=14" in resumed.err
    assert questions(resumed)[0] == "3.driver"
    whole = script("R.driver=14", "3.driver", "27u", "2.driven=30")
    assert resumed.out.splitlines() == whole.out.splitlines()[1:]


def test_a_named_box_can_be_made_sure_of(script, folder):
    """A session that ended with a name goes on for the other end, as its last line says."""
    ran = script("input=20/31", "3=27/24")
    line = f"cogtally session --resume {only_id(folder)} --sure"
    assert line in ran.err
    again = script(words=tuple(line.split()[2:]), asks=False)
    assert "4 pieces to count" in again.err


def test_a_changed_catalog_is_said(script, catalog, folder):
    """A session that goes on with other teeth in its catalog says so, once."""
    script("R.driver=14")
    text = Path(catalog).read_text(encoding="utf-8").replace("14/18/32", "14/19/32")
    Path(catalog).write_text(text, encoding="utf-8")
    said = "The catalog has changed since the last entry"
    assert said in script("3.driver=27", words=("--resume",), asks=False).err
    assert said not in script(words=("--resume",), asks=False).err


def test_another_catalog_can_be_asked(script, catalog, tmp_path):
    """A session may go on with another catalog, and says that it is another."""
    script("R.driver=14")
    other = Path(shutil.copy(catalog, tmp_path / "other.toml"))
    ran = script("3.driver=27", words=("--resume", "--catalog", str(other)), asks=False)
    assert "asked another catalog before" in ran.err
    assert f"--catalog {other}" in ran.out


def test_a_catalog_that_is_gone_is_an_error(script, catalog):
    """Without the catalog that it asked a session cannot go on, and nothing is changed."""
    script("R.driver=14")
    os.rename(catalog, f"{catalog}.old")
    refused(script("3.driver=27", words=("--resume",), asks=False), "birch.toml")


def test_the_list_has_every_session(script, cogtally, folder):
    """--list tells title, answer so far, date and end of each; --json has the words."""
    script("R.driver=14", "skip")
    script("R.driver=14", "3=27/24", "quit", words=("--sure", "--title", "Mrs K., blue van"))
    ran = cogtally("session", "--list", columns=60)
    assert all(len(line) <= 60 for line in ran.out.splitlines())
    first, second = (" ".join(part.split()) for part in ran.out.split("\n20"))
    assert "Mrs K., blue van birch-4/early, 9" in first
    assert first.endswith("2 seen; sure; birch.toml")
    assert "birch-4, 3 sets alike" in second or "birch-4, early, sport or touring" in second
    assert second.endswith("1 seen; quick; birch.toml")
    listed = json.loads(cogtally("session", "--list", "--json").out)["sessions"]
    assert [s["title"] for s in listed] == ["Mrs K., blue van", None]
    assert listed[0]["so_far"].startswith("birch-4/early, 9")
    assert [s["seen"] for s in listed] == [["R.driver=14", "3=27/24"], ["R.driver=14"]]
    assert len(listed[1]["skipped"]) == 1


def test_a_title_can_be_given_later(script, folder):
    """A session taken up again with --title is called so from then on, and asked as before."""
    script("R.driver=14", words=("--sure",))
    named = script(words=("--resume", "--title", "Mr A."), asks=False)
    again = script(words=("--resume",), asks=False)
    assert "(Mr A.), begun" in named.err
    assert "(Mr A.), begun" in again.err
    assert "every piece gets a count" in again.err


def test_a_session_can_be_deleted(script, cogtally, folder, catalog):
    """--delete takes a session off the disk, and says once more what was counted in it."""
    script("R.driver=14", words=("--title", "Mr A."))
    (file,) = folder.iterdir()
    ran = cogtally("session", "--delete", file.stem)
    assert (ran.code, ran.err) == (0, "")
    assert f"Session {file.stem} (Mr A.) is deleted." in ran.out
    assert f"cogtally identify --catalog {catalog} R.driver=14" in ran.out
    assert list(folder.iterdir()) == []
    gone = cogtally("session", "--delete", file.stem)
    assert gone.code == 2
    assert "there is no session called that" in gone.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--quick", "--sure"), "two different ends"),
        (("2026-03-05-1",), "write --resume before"),
        (("--resume", "2026-03-05-1"), "there is no session called that"),
        (("--resume", "../x"), "there is no session called that"),
        (("--resume",), "there is no session to resume"),
        (("--family", "brich-4"), "did you mean birch-4?"),
        (("--demo",), "two different catalogs"),
        (("--dance",), "there is no such option"),
    ],
)
def test_what_cannot_be_begun_is_one_line(script, words, said):
    """A request that makes no sense costs one line and exit code 2."""
    refused(script(words=words), said)


def test_noise_at_the_prompt_is_never_a_traceback(catalog, folder):
    """Bytes that are no text, control characters and endless lines are mistakes like any other."""
    noise = b"\xff\xfe\n\x00\x1b[2J\n" + b"9" * 100_000 + b"\n\r\n14u\x07\n" + bytes(range(256))
    done = subprocess.run(
        [sys.executable, "-m", "cogtally", "session", "--catalog", catalog],
        input=noise,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    assert b"\x1b" not in done.stderr
    assert not folder.exists()


def test_a_scripted_session_at_60_columns(catalog, folder, snapshot):
    """A whole session reads well at 60 columns: questions, moves, a mistake, help, the answer."""
    lines = ["14", "skip", "how", "foo", "3=27/24", "back", "?", "3.driver", "27u", "24"]
    done = subprocess.run(
        [sys.executable, "-m", "cogtally", "session", "--sure", "--catalog", catalog],
        input="".join(f"{line}\n" for line in ["R.driver", *lines]),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env={**os.environ, "COLUMNS": "60"},
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    shown = done.stdout.replace(catalog, "birch.toml").replace(only_id(folder), "2026-03-05-1")
    prose = [line for line in shown.splitlines() if not line.startswith("cogtally identify")]
    assert max(map(len, prose)) <= 60
    snapshot("session/sure-60", shown)


@pytest.fixture
def at_terminal(catalog, folder) -> Callable[..., Terminal]:
    """Begin a session on a terminal of its own."""

    def begin(*words: str, resume: bool = False) -> Terminal:
        asked = ("--resume",) if resume else ("--catalog", catalog)
        return Terminal("session", *asked, *words, env={"COGTALLY_SESSIONS": str(folder)})

    return begin


def enter(terminal: Terminal, line: str, said: str) -> None:
    """Type a line and wait for what it gives."""
    terminal.type(line)
    terminal.wait_for(said)


def test_a_whole_session_at_a_terminal(at_terminal):
    """At a terminal a person is asked, answers, skips, takes back, and gets the answer."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    enter(terminal, "R.driver", "Count R.driver")
    enter(terminal, "14", "R.driver=14: birch-4")
    enter(terminal, "skip", "Left out: ")
    enter(terminal, "back", "cannot be seen")
    enter(terminal, "3.drivn", "no wheel of a pair is called that")
    enter(terminal, "3=27/24", "3=27/24: birch-4/early")
    assert terminal.close() == 0
    assert "Settled: this answer has reached 90 %." in terminal.text
    assert "cogtally identify --catalog " in terminal.text
    of_one_line = ("cogtally identify", "3.drivn: ")
    prose = [line for line in terminal.text.splitlines() if not line.startswith(of_one_line)]
    assert max(map(len, prose)) <= 60


def test_a_power_cut_loses_nothing(at_terminal):
    """Killed at the prompt, a session goes on with all that was entered."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    enter(terminal, "R.driver=14", "nothing was counted before")
    enter(terminal, "2.driven=30u", "2.driven=30u: ")
    terminal.wait_for("> ", times=3)
    terminal.kill()
    again = at_terminal(resume=True)
    again.wait_for("Seen so far: R.driver=14 2.driven=30u")
    again.wait_for("> ")
    enter(again, "quit", "The session is kept.")
    assert again.close() == 0


def test_a_closed_terminal_loses_nothing(at_terminal, script):
    """A session whose terminal was closed goes on with all that was entered."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    enter(terminal, "R.driver=14", "nothing was counted before")
    terminal.hang_up()
    assert "Seen so far: R.driver=14" in script(words=("--resume",), asks=False).err


def test_ctrl_c_keeps_the_session_and_says_how_to_go_on(at_terminal, folder):
    """Ctrl-C ends with exit code 130, the terminal as it was, and the line that resumes."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    enter(terminal, "R.driver=14", "nothing was counted before")
    terminal.wait_for("> ", times=2)
    terminal.press("27")
    terminal.wait_for("> 27")
    terminal.interrupt("The session is kept.")
    assert terminal.echoes
    assert terminal.close() == 130
    assert f"cogtally session --resume {only_id(folder)}" in terminal.text
    assert "Traceback" not in terminal.text


def test_ctrl_c_before_anything_was_entered(at_terminal):
    """Ctrl-C at the first question keeps nothing and says so."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    terminal.interrupt("Nothing was entered, so nothing is kept.")
    assert terminal.close() == 130


def test_end_of_input_at_a_terminal_gives_the_answer(at_terminal):
    """Ctrl-D ends a session as quit does, with the answer."""
    terminal = at_terminal()
    terminal.wait_for("> ")
    enter(terminal, "R.driver=14", "nothing was counted before")
    terminal.wait_for("> ", times=2)
    terminal.press("\x04")
    terminal.wait_for("The session is kept.")
    assert terminal.close() == 0
    assert "cogtally identify --catalog " in terminal.text


#: One round at the bench; each ends with a recount, and leaves all pieces but some counted.
ROUND = (
    *("1.driven=36", "2.driven=30", "3.driver", "skip", "1.driver=15"),
    *("1@4:1.1", "back", "3.driver=27", "2.driver=21u", "1.driven=36"),
)


class Counting(io.StringIO):
    """Lines typed at a bench; counts the calls that the entries of these numbers take."""

    def __init__(self, entries: int, numbers: tuple[int, ...]) -> None:
        super().__init__("".join(f"{ROUND[n % len(ROUND)]}\n" for n in range(entries)))
        self.calls = dict.fromkeys(numbers, 0)
        self._read = 0

    def readline(self, size: int | None = -1, /) -> str:
        """Give the next entry; from here to the next one its calls are counted."""
        sys.setprofile(None)
        self._read += 1
        if self._read in self.calls:
            sys.setprofile(self._count)
        return super().readline(-1 if size is None else size)

    def _count(self, frame: object, event: str, argument: object) -> None:
        self.calls[self._read] += event in ("call", "c_call")


@pytest.mark.long
def test_the_thousandth_entry_costs_what_the_tenth_does(cogtally, catalog, folder, monkeypatch):
    """The thousandth entry of a session takes at most twice the function calls of the tenth."""
    typed = Counting(1_000, (10, 1_000))
    monkeypatch.setattr(sys, "stdin", typed)
    profiler = sys.getprofile()
    try:
        ran = cogtally("session", "--sure", "--catalog", catalog)
    finally:
        sys.setprofile(profiler)
    assert ran.code == 0
    assert len(questions(ran)) == 1_001
    assert 0 < typed.calls[1_000] <= 2 * typed.calls[10]
