"""What to ask next at the bench, and when a session has reached its end.

What a count is worth is left to `evidence.advice`, the answer to `evidence.answer`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from cogtally.evidence.advice import SMALL_WORTH, Advice, Worth
from cogtally.evidence.reading import NARROWED, RECOUNT as AGAIN, Answer
from cogtally.evidence.seen import Counted, counted_wheels, kept_name
from cogtally.shelf.session.bench import NAME, SURE, Bench, Question, look_key, question_of

if TYPE_CHECKING:
    from cogtally.evidence.advice import LookWorth

#: A hasty hand shows itself in so many counts of the same wheel; more are not asked for.
ENOUGH_COUNTS = 3
#: A wheel whose count alone makes the answer is asked again until it was counted so often.
ENOUGH_RECOUNTS = 2

#: Why a question is asked: the person asked for it, it is worth most, its piece has no count, one
#: count alone stands in the way, the last count tipped the answer, or the counting looks hasty.
WANTED, WORTH, PIECE = "wanted", "worth", "piece"
RECOUNT, TIPPED, ALL_AGAIN = "recount", "tipped", "all-again"

#: How a session ends by itself: the box has a name; nothing that can be seen is worth a count;
#: every piece that can be seen has one.
NAMED, SPENT, ALL_COUNTED = "named", "spent", "all-counted"

#: Gives the advice on what was seen so far, with the turn tests or without.
Advise = Callable[[bool], Advice]


@dataclass(frozen=True, slots=True)
class View:
    """What a session comes to as it stands.

    `question`: what to ask next, None where nothing is left. `ending`: how the session has ended,
    empty where it has not. `uncounted`: pieces of the leading family without a count;
    `unreachable`: those of them of which every wheel was skipped. `look`: the mark or feature that
    the question is about, or that is worth more than what it asks. `then`: what else is worth the
    while, falling.
    """

    answer: Answer
    question: Question | None
    ending: str
    uncounted: tuple[str, ...] = ()
    unreachable: tuple[str, ...] = ()
    look: LookWorth | None = None
    then: tuple[Worth | LookWorth, ...] = ()


def look(bench: Bench, answer: Answer, advise: Advise) -> View:
    """Return what to ask next in a session, or how it ended; `answer` and `advise` are of it."""
    if _is_shut(answer):
        return _Look(bench, answer, advise(True)).view()
    view = _Look(bench, answer, advise(False)).view()
    nothing_better = view.question is None or view.question.why == ALL_AGAIN
    open_end = bool(view.ending) and (answer.verdict.kind == NARROWED or not answer.verdict.is_sure)
    if nothing_better or open_end:
        # Only turn tests might tell more; they take longer to weigh.
        view = _Look(bench, answer, advise(True)).view()
    return view


def best_turn(bench: Bench, advice: Advice) -> Question | None:
    """Return the turn test worth most that is not left out; None where none is worth anything."""
    turns = _open_turns(bench, advice)
    return _of_worth(turns[0], WANTED) if turns else None


class _Look:
    def __init__(self, bench: Bench, answer: Answer, advice: Advice) -> None:
        self._bench = bench
        self._answer = answer
        self._family = answer.family
        self._all_again = advice.count_all_again
        # Asked once: it goes through every entry.
        self._left_out = bench.skipped
        self._skipped = {kept_name(self._family, key) for key in self._left_out}
        self._worth = {w.wheel: w.bits for w in advice.wheels}
        self._open = [w for w in advice.wheels if w.wheel not in self._skipped]
        self._turns = _open_turns(bench, advice)
        self._looks = [
            found
            for found in advice.looks
            if found.bits >= SMALL_WORTH
            and look_key(found.owner, found.feature) not in self._left_out
        ]
        self._counted = counted_wheels(answer.seen, self._family)

    def view(self) -> View:
        # Each piece without a count to those of its wheels that can be seen.
        uncounted = {
            piece.name: [w for w in piece.wheels if w not in self._skipped]
            for piece in (self._family.pieces if self._family else ())
            if not any(wheel in self._counted for wheel in piece.wheels)
        }
        out_of_sight = [name for name, wheels in uncounted.items() if not wheels]
        wheels = [w for seeable in uncounted.values() for w in seeable]
        found, ending = self._next(wheels)
        question = self._with_piece(self._wanted() or found or self._anything())
        beside = self._look_of(question)
        return View(
            answer=self._answer,
            question=question,
            ending=ending,
            uncounted=tuple(uncounted),
            unreachable=tuple(out_of_sight),
            look=beside,
            then=() if question is None or ending else tuple(self._then(question, beside)),
        )

    def _then(self, asked: Question, beside: LookWorth | None) -> list[Worth | LookWorth]:
        """What is worth the while beside what is asked, falling; nothing beside hasty counting."""
        if asked.why == ALL_AGAIN:
            return []
        others: list[Worth | LookWorth] = [
            *(w for w in self._open if w.wheel != kept_name(self._family, asked.wheel)),
            *(w for w in self._turns if w.gear != asked.gear),
            *(found for found in self._looks if found is not beside),
        ]
        return sorted([o for o in others if o.bits >= SMALL_WORTH], key=lambda one: -one.bits)

    def _with_piece(self, question: Question | None) -> Question | None:
        """A question with the piece that its wheel or its look is on."""
        if question is None or self._family is None:
            return question
        wheel = kept_name(self._family, question.wheel or question.owner)
        piece = self._family.piece_of.get(wheel)
        return replace(question, piece=piece.name if piece else question.owner)

    def _look_of(self, question: Question | None) -> LookWorth | None:
        """The look that is asked for, or that is worth more than the count that is."""
        best = next(iter(self._looks), None)
        if best is None or question is None or question.why not in (WORTH, PIECE):
            return None
        if question.feature:
            return best
        return best if question.wheel and best.bits > (question.bits or 0.0) else None

    def _next(self, wheels: Sequence[str]) -> tuple[Question | None, str]:
        """What the end that the session is for asks next, or how the session has ended."""
        if self._bench.end == SURE and wheels:
            best = max(wheels, key=lambda wheel: self._worth.get(wheel, 0.0))
            return Question(best, bits=self._worth.get(best), why=PIECE), ""
        again = self._recount()
        verdict = self._answer.verdict
        if self._bench.end == NAME and verdict.is_sure and verdict.kind != NARROWED:
            if again is not None and not verdict.is_clean:
                return again, ""
            return None, NAMED
        if self._bench.end == SURE and verdict.is_sure:
            return again, "" if again else ALL_COUNTED
        found = self._worth_most() or again or self._hasty()
        if found is not None or self._bench.last_seen is None:
            return found, ""
        return None, SPENT if self._bench.end == NAME else ALL_COUNTED

    def _worth_most(self) -> Question | None:
        """The wheel worth most; a turn test where no wheel is worth anything or the box is shut.

        A look where none of these is worth anything and the box is open.
        """
        first = (self._open[:1], self._turns[:1])
        for found in reversed(first) if _is_shut(self._answer) else first:
            if found and found[0].bits >= SMALL_WORTH:
                return _of_worth(found[0], WORTH)
        if self._looks and not _is_shut(self._answer):
            best = self._looks[0]
            return Question(bits=best.bits, why=WORTH, owner=best.owner, feature=best.feature)
        return None

    def _recount(self) -> Question | None:
        """What alone stands in the way of a set, or tipped the answer to a strange box."""
        doubted = [(recount.wheel, RECOUNT) for recount in self._answer.recounts]
        seen = self._answer.seen
        verdict = self._answer.verdict
        strange = self._bench.end == NAME and not (verdict.is_clean or verdict.kind == AGAIN)
        if strange and seen.words and seen.words[-1].counts:
            last = seen.words[-1].counts[-1]
            doubted.append((kept_name(self._family, last.wheel), TIPPED))
        look_again = self._look_again() if strange else None
        if look_again is not None:
            return look_again
        for wheel, why in doubted:
            counted = self._counted.get(wheel)
            if wheel not in self._skipped and counted and counted.times < ENOUGH_RECOUNTS:
                return Question(wheel, bits=self._worth.get(wheel), why=why)
        return self._turn_again() if strange else None

    def _look_again(self) -> Question | None:
        """The last thing seen, where it was a look that was taken once."""
        last = self._bench.last_seen
        key = last.look_key if last is not None else ""
        if last is None or not key:
            return None
        taken = sum([s.look_key == key for s in self._bench.steps if s.kind == last.kind])
        if taken >= ENOUGH_RECOUNTS or key in self._left_out:
            return None
        owner, _, feature = key.rpartition(".")
        return Question(why=TIPPED, owner=owner, feature=feature)

    def _turn_again(self) -> Question | None:
        """The last thing seen, where it was the only turn test of its gear."""
        turn = self._answer.seen.words[-1].turn if self._answer.seen.words else None
        if turn is None or turn.turns_in.denominator != 1 or len(turn.gears) > 1:
            return None
        (gear,) = turn.gears
        made = sum(other.gears == turn.gears for other in self._answer.seen.turns)
        if made >= ENOUGH_RECOUNTS or f"{gear}@" in self._left_out:
            return None
        return Question(gear=gear, turns=int(turn.turns_in), why=TIPPED)

    def _hasty(self) -> Question | None:
        """The wheel counted least often, where all of it is to be counted again."""
        left = [
            counted
            for counted in self._counted.values()
            if counted.times < ENOUGH_COUNTS and counted.wheel not in self._skipped
        ]
        if not self._all_again or not left:
            return None
        least: Counted = min(left, key=lambda counted: counted.times)
        return Question(least.wheel, bits=self._worth.get(least.wheel), why=ALL_AGAIN)

    def _wanted(self) -> Question | None:
        if not self._bench.wanted:
            return None
        wheel, gear, turns = question_of(self._bench.wanted)
        bits = self._worth.get(kept_name(self._family, wheel)) if wheel else None
        return Question(wheel, gear, turns, bits, WANTED)

    def _anything(self) -> Question | None:
        """What is left to ask where the end is reached and the person goes on."""
        found = next(iter([*self._open, *self._turns]), None)
        return None if found is None else _of_worth(found, WORTH)


def _is_shut(answer: Answer) -> bool:
    """Tell whether a box seems to stay shut: it was turned, and nothing in it was seen."""
    return bool(answer.seen.turns) and not (answer.seen.counts or answer.seen.looks)


def _open_turns(bench: Bench, advice: Advice) -> Sequence[Worth]:
    skipped = bench.skipped
    return [w for w in advice.turns if w.bits > 0 and f"{w.gear}@" not in skipped]


def _of_worth(worth: Worth, why: str) -> Question:
    return Question(worth.wheel, worth.gear, worth.turns, worth.bits, why)
