"""A question at the bench, and what the line typed after it says.

How counts and turn tests are written is left to `gears.notation`, marks and features to
`gears.looks`, what follows from an entry to `bench`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from cogtally.gears.errors import UserError
from cogtally.gears.looks import parse_feature, parse_mark
from cogtally.gears.notation import (
    ReadFeature,
    ReadMark,
    Scanner,
    Word,
    parse_count,
    parse_word,
    split_words,
    trade_name,
)
from cogtally.gears.trains import ROLES_OF_THREE

#: Kinds of entries.
SEEN, MARK, FEATURE, TAKE, SKIP, BACK, AGAIN, TURN, HOW, HELP, QUIT = (
    "seen",
    "mark",
    "feature",
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
#: A look is told from all else by its first word.
_LOOK = re.compile(rf"({MARK}|{FEATURE})(?:\s+(.*))?", re.IGNORECASE | re.DOTALL)
#: Where a look was asked for, all but this is what was read: a word of the notation, a wheel.
_OTHER = re.compile(rf"[=@]|^[^.\s]+\.({'|'.join(ROLES_OF_THREE)})$")
_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked next: a count of `wheel`, a turn test of `gear` with whole `turns` in, a look.

    A look is at the MARK, or at the `feature`, of `owner`, a piece or a wheel. `bits`: the fall in
    doubt to expect of it, None where nobody worked it out. `why`: one of the reasons of
    `proposals`. `piece`: the piece that all this is on, empty where that is not known.
    """

    wheel: str = ""
    gear: str = ""
    turns: int = 0
    bits: float | None = None
    why: str = ""
    owner: str = ""
    feature: str = ""
    piece: str = ""

    @property
    def key(self) -> str:
        """What is skipped where this question is: a wheel, a look, or all turns of a gear, `1@`."""
        return f"{self.gear}@" if self.gear else self.asked

    @property
    def asked(self) -> str:
        """The question in one word, for a prompt and a record: `3.driven`, `1@7`, `laygear.mark`.

        Looks are never in a record: nobody can wish for one.
        """
        if self.gear:
            return f"{self.gear}@{self.turns}"
        return self.wheel or look_key(self.owner, self.feature)


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed: its `kind`, with the `words` or the `look` seen, or the `wheel` to take."""

    kind: str
    words: tuple[Word, ...] = ()
    wheel: str = ""
    look: ReadMark | ReadFeature | None = None


def look_key(owner: str, feature: str) -> str:
    """Return what a look at a mark (MARK) or a feature is called where it is skipped."""
    return f"{owner}.{feature}"


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
    look = _LOOK.fullmatch(text)
    if look is not None:
        return _looked(look[1].casefold(), (look[2] or "").strip(), question)
    if question is not None and question.feature and not _OTHER.search(text):
        return _answered(text, question)
    if "=" in text or "@" in text:
        return _seen(*split_words([text]))
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
    return f"{trade_name(name)}.{role}"


def _seen(*texts: str) -> Entry:
    words = tuple(parse_word(text) for text in texts)
    for word in words:
        if not word.counts and word.turn is None:
            raise UserError("nothing was counted there", word.text, "skip leaves a wheel out")
    return Entry(SEEN, words)


def _looked(kind: str, text: str, question: Question | None) -> Entry:
    """What was read or looked at; a mark without the name of its piece is of the one asked for."""
    if kind == FEATURE:
        return Entry(FEATURE, look=parse_feature(text, option=FEATURE))
    if ":" not in text and question is not None and question.piece:
        read = parse_mark(text, loose=True, option=MARK)
        return Entry(MARK, look=replace(read, piece=question.piece))
    return Entry(MARK, look=parse_mark(text, option=MARK))


def _answered(text: str, question: Question) -> Entry:
    """What was read where a look was asked for."""
    if question.feature == MARK:
        return _looked(MARK, text, question)
    return _looked(FEATURE, f"{look_key(question.owner, question.feature)}={text}", question)


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
