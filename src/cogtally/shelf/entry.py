"""A question at the bench, and what the line typed after it says.

How counts and turn tests are written is left to `gears.notation`, what follows from an entry to
`bench`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_count, parse_word
from cogtally.gears.scanner import Scanner
from cogtally.gears.trains import ROLES_OF_THREE
from cogtally.gears.words import Word

#: Kinds of entries.
SEEN, TAKE, SKIP, BACK, AGAIN, TURN, HOW, HELP, QUIT = (
    "seen",
    "take",
    "skip",
    "back",
    "again",
    "turn",
    "how",
    "help",
    "quit",
)

#: What may be typed for each kind that is a word of its own.
COMMANDS: Mapping[str, str] = {
    "skip": SKIP,
    "_": SKIP,
    "back": BACK,
    "again": AGAIN,
    "turn": TURN,
    "how": HOW,
    "?": HELP,
    "help": HELP,
    "quit": QUIT,
    "q": QUIT,
    "exit": QUIT,
}

#: A longer line is a slip, such as a file pasted by mistake.
LONGEST_ENTRY = 500
WHEEL_MEND = "write a wheel as 3.driver, 3.idler or 3.driven"
HELP_MEND = "? lists what can be written"
_NUMBER_FIRST = re.compile(r"[0-9.]")
_WHEEL_FORM = re.compile(r"[^.\s]+\.[^\W\d_]")
_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked next: a count of `wheel`, or a turn test of `gear` with whole `turns` in.

    `bits`: the fall in doubt to expect of it, None where nobody worked it out. `why`: one of the
    reasons of `proposals`.
    """

    wheel: str = ""
    gear: str = ""
    turns: int = 0
    bits: float | None = None
    why: str = ""

    @property
    def key(self) -> str:
        """What is skipped where this question is: a wheel, or every turn test of a gear, `1@`."""
        return self.wheel or f"{self.gear}@"

    @property
    def asked(self) -> str:
        """The question in one word, as a prompt and a record have it: `3.driven` or `1@7`."""
        return self.wheel or f"{self.gear}@{self.turns}"


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed: its `kind`, with the `words` that were seen or the `wheel` to take next."""

    kind: str
    words: tuple[Word, ...] = ()
    wheel: str = ""


def question_of(asked: str) -> tuple[str, str, int]:
    """Return wheel, gear and turns of a question that was written down as `Question.asked`."""
    gear, at, turns = asked.partition("@")
    return ("", gear, int(turns)) if at else (asked, "", 0)


def read_entry(text: str, question: Question | None) -> Entry:
    """Read one line typed after `question` (None: nothing was asked); raise UserError.

    A line of several words, each a word of the notation, is one entry.
    """
    text = text.strip()
    if len(text) > LONGEST_ENTRY:
        mend = "write one count, one pair or one turn test a line"
        raise UserError(f"the line has more than {LONGEST_ENTRY} characters", mend=mend)
    command = COMMANDS.get(text.casefold())
    if command is not None:
        return Entry(command)
    if "=" in text or "@" in text:
        return _seen(*text.split())
    if _WHEEL_FORM.match(text):
        return Entry(TAKE, wheel=parse_wheel(text))
    if _NUMBER_FIRST.match(text):
        return _bare(text, question)
    raise _not_understood(text)


def parse_wheel(text: str) -> str:
    """Read the name of a wheel that stands alone, `3.driven`; raise UserError."""
    scan = Scanner(text)
    name = scan.name(WHEEL_MEND)
    role = None
    if scan.take("."):
        role = next((r for r in ROLES_OF_THREE if scan.take(r)), None)
    if role is None:
        raise scan.error("no wheel of a pair is called that", WHEEL_MEND)
    scan.end(WHEEL_MEND)
    return f"{name}.{role}"


def _seen(*texts: str) -> Entry:
    words = tuple(parse_word(text) for text in texts)
    for word in words:
        if not word.counts and word.turn is None:
            raise UserError("nothing was counted there", word.text, "skip leaves a wheel out")
    return Entry(SEEN, words)


def _bare(text: str, question: Question | None) -> Entry:
    """A number alone: a count of the wheel asked for, or what a turn test gave."""
    if question is None:
        raise UserError("no wheel was asked for", text, "write it with its wheel: 3.driven=24")
    if question.wheel:
        parse_count(text, question.wheel)
        return _seen(f"{question.wheel}={text}")
    if ":" in text:
        return _seen(f"{question.gear}@{text}")
    scan = Scanner(text)
    mend = f"write how many turns out {question.turns} turns in gave: 1.1 or 7/24"
    scan.turns(mend)
    if scan.peek() != "/":
        scan.end(mend)
    return _seen(f"{question.gear}@{question.turns}:{text}")


def _not_understood(text: str) -> UserError:
    if _PLAIN_NAME.fullmatch(text) and len(text) <= 2:
        mend = f"a wheel is written {text}.driver or {text}.driven; {HELP_MEND}"
        return UserError("that is no wheel and no count", text, mend)
    from difflib import get_close_matches

    near = get_close_matches(text.casefold(), [c for c in COMMANDS if len(c) > 1], 1)
    mend = f"did you mean {near[0]}? {HELP_MEND}" if near else HELP_MEND
    return UserError("that was not understood", Scanner(text).shown(), mend)
