"""A session at the bench as a state: what a line says, and what it makes of what was entered.

What the words of a line mean is left to the notation, what to ask next to `proposals`, the disk to
`files`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from operator import attrgetter

from cogtally.gears import notation
from cogtally.gears.errors import UserError
from cogtally.gears.looks import parse_feature, parse_mark, with_looks
from cogtally.gears.notation import Seen
from cogtally.gears.trains import ROLES_OF_THREE

#: Kinds of entries.
SEEN, MARK, FEATURE, TAKE, SKIP, BACK = "seen", "mark", "feature", "take", "skip", "back"
AGAIN, TURN, HOW, HELP, QUIT = "again", "turn", "how", "help", "quit"

#: What may be typed for each kind that is a word of its own.
COMMANDS: Mapping[str, str] = {
    **{word: word for word in (SKIP, BACK, AGAIN, TURN, HOW, HELP, QUIT)},
    "_": SKIP,
    "?": HELP,
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
    words: tuple[notation.Word, ...] = ()
    wheel: str = ""
    look: notation.ReadMark | notation.ReadFeature | None = None


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
        if question.feature == MARK:
            return _looked(MARK, text, question)
        return _looked(FEATURE, f"{look_key(question.owner, question.feature)}={text}", question)
    if "=" in text or "@" in text:
        return _seen(*notation.split_words([text]))
    if _WHEEL_FORM.match(text):
        return Entry(TAKE, wheel=parse_wheel(text))
    if _NUMBER_FIRST.match(text):
        return _bare(text, question)
    raise _not_understood(text)


def parse_wheel(text: str) -> str:
    """Read the name of a wheel that stands alone, `3.driven`; raise UserError."""
    scan = notation.Scanner(text)
    name = scan.name(WHEEL_MEND)
    scan.take(".")
    role = scan.role(WHEEL_MEND)
    scan.end(WHEEL_MEND)
    return f"{notation.trade_name(name)}.{role}"


def _seen(*texts: str) -> Entry:
    words = tuple(notation.parse_word(text) for text in texts)
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


def _bare(text: str, question: Question | None) -> Entry:
    """A number alone: a count of the wheel asked for, or what a turn test gave."""
    if question is None:
        raise UserError("no wheel was asked for", text, "write it with its wheel: 3.driven=24")
    if question.wheel:
        notation.parse_count(text, question.wheel)
        return _seen(f"{question.wheel}={text}")
    if ":" in text:
        return _seen(f"{question.gear}@{text}")
    scan = notation.Scanner(text)
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
    return UserError("that was not understood", notation.Scanner(text).shown(), mend)


#: The two ends of a session.
NAME, SURE = "name", "sure"
ENDS = (NAME, SURE)

#: Kinds of steps, which is what is kept: the rest of the entries change nothing.
STEPS = (SEEN, MARK, FEATURE, SKIP, TAKE, BACK)
#: Steps with something seen.
LOOKED = (SEEN, MARK, FEATURE)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that an entry did; raise UserError where what was seen cannot be read.

    `words`: what was seen, as the notation writes it: words, or one mark with its piece, or one
    feature.
    `of`: what was skipped (`Question.key`) or is to be asked next (`Question.asked`).
    `seen`: what was seen, as the evidence takes it.
    """

    kind: str
    words: tuple[str, ...] = ()
    of: str = ""
    seen: Seen = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        """Read the words once: every later entry asks for them again."""
        if self.kind in (MARK, FEATURE):
            marks, features = (self.words, ()) if self.kind == MARK else ((), self.words)
            seen = with_looks(Seen(()), marks, features)
        else:
            seen = notation.parse_seen(self.words)
        object.__setattr__(self, "seen", seen)

    @property
    def look_key(self) -> str:
        """What the look that was taken is called where it is skipped; empty where it is none."""
        if self.kind == MARK:
            return look_key(self.words[0].partition(":")[0], MARK)
        return self.words[0].partition("=")[0] if self.kind == FEATURE else ""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a session stands: the `end` that it is for, and the `steps` in force, in order.

    `left_out`: what could not be seen after each of the steps.
    """

    end: str = NAME
    steps: tuple[Step, ...] = ()
    left_out: tuple[frozenset[str], ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        """Work out what is left out after the steps of which that was not given."""
        left_out = list(self.left_out)
        for step in self.steps[len(left_out) :]:
            left_out.append(_left_out(left_out[-1] if left_out else frozenset(), step))
        object.__setattr__(self, "left_out", tuple(left_out))

    def after(self, step: Step) -> Bench:
        """Return where the session stands after one more step; BACK takes the last one out."""
        if step.kind == BACK:
            return replace(self, steps=self.steps[:-1], left_out=self.left_out[:-1])
        return replace(self, steps=(*self.steps, step))

    @property
    def words(self) -> tuple[str, ...]:
        """Every word seen, in the order of entry: counts and turn tests."""
        return self._words(SEEN)

    @property
    def marks(self) -> tuple[str, ...]:
        """Every mark read, `laygear:LG*02`, in the order of entry."""
        return self._words(MARK)

    @property
    def features(self) -> tuple[str, ...]:
        """Every feature looked at, `laygear.splines=10`, in the order of entry."""
        return self._words(FEATURE)

    @property
    def seen(self) -> Seen:
        """All that was seen, as the evidence takes it, entry by entry."""
        looked = [step.seen for step in self.steps if step.kind in LOOKED]
        return Seen(*(tuple(chain.from_iterable(map(kind, looked))) for kind in _KINDS_SEEN))

    @property
    def together(self) -> Seen:
        """All that was seen, equal counts in one; raise UserError for more than any box has.

        What it takes to weigh it does not grow with every recount.
        """
        seen = notation.together(self.seen)
        notation.refuse_too_many(seen)
        return seen

    @property
    def last_seen(self) -> Step | None:
        """The last step with something seen; None where nothing was."""
        return next((step for step in reversed(self.steps) if step.kind in LOOKED), None)

    @property
    def skipped(self) -> frozenset[str]:
        """What cannot be seen: keys of questions; whatever was seen after all is not among them."""
        return self.left_out[-1] if self.left_out else frozenset()

    @property
    def wanted(self) -> str:
        """What was asked to come next (`Question.asked`), empty where nothing was."""
        last = self.steps[-1] if self.steps else None
        return last.of if last is not None and last.kind == TAKE else ""

    def _words(self, kind: str) -> tuple[str, ...]:
        return tuple(word for step in self.steps if step.kind == kind for word in step.words)


#: What there is in what was seen.
_KINDS_SEEN = tuple(map(attrgetter, ("words", "marks", "features")))


def _left_out(before: frozenset[str], step: Step) -> frozenset[str]:
    if step.kind == SKIP:
        return before | {step.of}
    if step.kind not in LOOKED or not before:
        return before
    turned = {f"{'+'.join(turn.gears)}@" for turn in step.seen.turns}
    return before - {count.wheel for count in step.seen.counts} - turned - {step.look_key}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an entry came to.

    `bench`: where the session stands now. `kind`: the kind of the entry. `step`: what is to be
    kept, None where nothing changed. `about`: the step that the entry made or, for BACK, undid.
    """

    bench: Bench
    kind: str
    step: Step | None = None
    about: Step | None = None


def enter(
    bench: Bench,
    question: Question | None,
    text: str,
    best_turn: Callable[[], Question | None],
    named: Callable[[Seen], Seen] = lambda seen: seen,
) -> Outcome:
    """Return what the line `text` makes of a session.

    `question` is what was asked (None: nothing); `best_turn` gives the turn test that is worth
    most (None: there is none); `named` gives what was seen with every piece as the catalog calls
    it, and raises UserError for what the catalog cannot answer. Raises UserError where the line
    cannot be understood; then nothing changed.
    """
    entry = read_entry(text, question)
    if entry.kind == BACK:
        if not bench.steps:
            raise UserError("nothing was entered yet, so there is nothing to take back")
        step = Step(BACK)
        return Outcome(bench.after(step), BACK, step, bench.steps[-1])
    made: Step | None = None
    if entry.kind in LOOKED:
        made = _step_of_look(entry, named)
        if made.kind == SEEN:
            notation.refuse_other_pairs(bench.after(made).together)
    elif entry.kind == TAKE:
        made = Step(TAKE, of=entry.wheel)
    elif entry.kind == AGAIN:
        counts = bench.seen.counts
        if not counts:
            raise UserError("nothing was counted yet", mend="write a wheel's name to take it next")
        made = Step(TAKE, of=counts[-1].wheel)
    elif entry.kind == SKIP:
        if question is None:
            raise UserError("nothing was asked that could be skipped")
        made = Step(SKIP, of=question.key)
    elif entry.kind == TURN:
        turn = best_turn()
        if turn is None:
            mend = "write one that you made, for example 1@4:1.1"
            raise UserError("no turn test would tell more", mend=mend)
        made = Step(TAKE, of=turn.asked)
    if made is None:
        return Outcome(bench, entry.kind)
    kind = TAKE if made.kind == TAKE else entry.kind
    return Outcome(bench.after(made), kind, made, made)


def _step_of_look(entry: Entry, named: Callable[[Seen], Seen]) -> Step:
    if entry.look is None:
        seen = named(Seen(entry.words))
        return Step(SEEN, words=tuple(word.text for word in seen.words))
    if isinstance(entry.look, notation.ReadMark):
        (mark,) = named(Seen((), marks=(entry.look,))).marks
        # Of a mark that was read where its piece was asked for, the text is the reading alone.
        _, colon, after = mark.text.partition(":")
        reading = "".join(filter(str.isprintable, after if colon else mark.text)).strip()
        return Step(MARK, words=(f"{mark.piece}:{reading}",))
    (look,) = named(Seen((), features=(entry.look,))).features
    value = look.text.partition("=")[2].strip()
    return Step(FEATURE, words=(f"{look_key(look.owner, look.feature)}={value}",))
