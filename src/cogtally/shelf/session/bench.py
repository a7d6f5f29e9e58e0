"""A session at the bench as a state: what was entered so far, and what one more entry makes of it.

What a line says is left to `entry`, what to ask next to `proposals`, the disk to `sessions`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from cogtally.gears.errors import UserError
from cogtally.gears.looks import with_looks
from cogtally.gears.notation import ReadMark, Seen, parse_seen, refuse_other_pairs
from cogtally.shelf.session.entry import (
    AGAIN,
    BACK,
    FEATURE,
    MARK,
    SEEN,
    SKIP,
    TAKE,
    TURN,
    Entry,
    Question,
    look_key,
    read_entry,
)

#: The two ends of a session.
NAME, SURE = "name", "sure"
ENDS = (NAME, SURE)

#: Kinds of steps, which is what is kept: the rest of the entries change nothing.
STEPS = (SEEN, MARK, FEATURE, SKIP, TAKE, BACK)
#: Steps with something seen.
LOOKED = (SEEN, MARK, FEATURE)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that an entry did.

    `words`: what was seen, as the notation writes it: words, or one mark with its piece, or one
    feature.
    `of`: what was skipped (`Question.key`) or is to be asked next (`Question.asked`).
    """

    kind: str
    words: tuple[str, ...] = ()
    of: str = ""

    @property
    def seen(self) -> Seen:
        """What was seen, as the evidence takes it; raise UserError where it cannot be read."""
        if self.kind == MARK:
            return with_looks(Seen(()), self.words, ())
        if self.kind == FEATURE:
            return with_looks(Seen(()), (), self.words)
        return parse_seen(self.words)

    @property
    def look_key(self) -> str:
        """What the look that was taken is called where it is skipped; empty where it is none."""
        if self.kind == MARK:
            return look_key(self.words[0].partition(":")[0], MARK)
        return self.words[0].partition("=")[0] if self.kind == FEATURE else ""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a session stands: the `end` that it is for, and the `steps` in force, in order."""

    end: str = NAME
    steps: tuple[Step, ...] = ()

    def after(self, step: Step) -> Bench:
        """Return where the session stands after one more step; BACK takes the last one out."""
        if step.kind == BACK:
            return replace(self, steps=self.steps[:-1])
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
        """All that was seen, as the evidence takes it."""
        return with_looks(parse_seen(self.words), self.marks, self.features)

    @property
    def last_seen(self) -> Step | None:
        """The last step with something seen; None where nothing was."""
        return next((step for step in reversed(self.steps) if step.kind in LOOKED), None)

    @property
    def skipped(self) -> frozenset[str]:
        """What cannot be seen: keys of questions; whatever was seen after all is not among them."""
        found: set[str] = set()
        for step in self.steps:
            if step.kind == SKIP:
                found.add(step.of)
            elif step.kind in LOOKED:
                seen = step.seen
                found -= {count.wheel for count in seen.counts}
                found -= {f"{'+'.join(turn.gears)}@" for turn in seen.turns}
                found.discard(step.look_key)
        return frozenset(found)

    @property
    def wanted(self) -> str:
        """What was asked to come next (`Question.asked`), empty where nothing was."""
        last = self.steps[-1] if self.steps else None
        return last.of if last is not None and last.kind == TAKE else ""

    def _words(self, kind: str) -> tuple[str, ...]:
        return tuple(word for step in self.steps if step.kind == kind for word in step.words)


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
        made = _looked(entry, named)
        if made.kind == SEEN:
            refuse_other_pairs(parse_seen((*bench.words, *made.words)))
    elif entry.kind == TAKE:
        made = Step(TAKE, of=entry.wheel)
    elif entry.kind == AGAIN:
        made = Step(TAKE, of=_last_counted(bench))
    elif entry.kind == SKIP:
        made = Step(SKIP, of=_asked(question).key)
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


def _looked(entry: Entry, named: Callable[[Seen], Seen]) -> Step:
    if entry.look is None:
        seen = named(Seen(entry.words))
        return Step(SEEN, words=tuple(word.text for word in seen.words))
    if isinstance(entry.look, ReadMark):
        (mark,) = named(Seen((), marks=(entry.look,))).marks
        # Of a mark that was read where its piece was asked for, the text is the reading alone.
        _, colon, after = mark.text.partition(":")
        reading = "".join(filter(str.isprintable, after if colon else mark.text)).strip()
        return Step(MARK, words=(f"{mark.piece}:{reading}",))
    (look,) = named(Seen((), features=(entry.look,))).features
    value = look.text.partition("=")[2].strip()
    return Step(FEATURE, words=(f"{look_key(look.owner, look.feature)}={value}",))


def _last_counted(bench: Bench) -> str:
    counts = bench.seen.counts
    if not counts:
        raise UserError("nothing was counted yet", mend="write a wheel's name to take it next")
    return counts[-1].wheel


def _asked(question: Question | None) -> Question:
    if question is None:
        raise UserError("nothing was asked that could be skipped")
    return question
