"""All that is said in a session at the bench: its beginning, question, answer, end; the list.

What is asked and what an entry comes to is left to `shelf`, the answer itself to `box`.
"""

import os
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.posterior import MIXED, NEW, UNCATALOGUED
from cogtally.evidence.reading import RECOUNT as TO_RECOUNT, Answer, Verdict
from cogtally.evidence.seen import Counted, counted_wheels
from cogtally.gears.looks import feature_name
from cogtally.shelf import session as sessions
from cogtally.show import screen

#: So many sets are called by name in one line.
SETS_NAMED = 3
WORTH_MOST = "worth most"

HELP = (
    "24         the count of the wheel asked for",
    "24u 24x2   unsure; counted twice, the same each time",
    "3.driven=21, 3=24/21   a wheel, a pair driver/driven",
    "1@4:1.1    a turn test: gear 1, 4 turns in gave 1.1 out",
    "mark LG 3?02   on the piece asked for; ? unread, * lost",
    "mark laygear: LG*02   a mark on another piece",
    "feature laygear.splines=10, feature 3.driver.hand=left",
    "3.driver   take this wheel next, also to count it again",
    "again      count the last wheel again",
    "turn       take the turn test worth most",
    "skip       cannot see it",
    "back       take the last entry back",
    "how        how to count",
    "quit       end with the answer; the session is kept",
)

_COUNTING = (
    "Chalk one tooth. Turn by hand and count the teeth that pass a fixed point until the chalked "
    "one returns.",
    "In a closed box count through an inspection hole, past a mark on its edge.",
    "A missing or broken tooth counts: its gap is a tooth.",
    "Write u behind a count that you are unsure of (24u), x2 behind one that came out the same "
    "twice (24x2).",
)
_TURNING = (
    "Put the box in gear {gear}. Chalk the input shaft and the output against the case. Take up "
    "the slack, then turn the input {turns} by hand, in one direction.",
    "Write how many turns the output made: 1.1, or 7/24 where you counted marks.",
    "Or turn the output to its mark and read the input: write {gear}@3.6:1.",
)
_LOOKING = (
    "Wipe the piece clean. Look under a strong light, held low; chalk rubbed over a mark shows it.",
    "Write what you read: ? for a character that cannot be read, * for any number of them.",
)
_LOOKED_AT = (
    "Wipe the piece clean. Count splines and dog teeth as teeth are counted; measure in mm.",
    "Write what you found: 10, 19.05, left; u behind a number that you are unsure of.",
)
_HELD = "On an axle hold one wheel, turn the other, and write /held: {gear}@2.3:1/held."
SAFETY = "Turn by hand only: engine disconnected, box supported, fingers out of the mesh."


def question_lines(view: sessions.View) -> list[str]:
    """Return the question that stands, and a line with the two next best."""
    asked = view.question
    if asked is None:
        return ["Nothing is left to ask. Write what else you counted, or quit."]
    if asked.feature and asked.why == sessions.TIPPED:
        what = asked.feature if asked.feature == sessions.MARK else feature_name(asked.feature)
        found = f"Look at the {what} of {asked.owner} again; it alone tipped the answer."
    elif asked.feature:
        found = f"Look at {_look(view)}; {WORTH_MOST}."
    elif asked.wheel:
        beside = f" Or look at {_look(view)}; worth more." if view.look else ""
        found = f"{_count_question(view, asked)}{beside}"
    else:
        turns = "one whole turn" if asked.turns == 1 else f"{asked.turns} whole turns"
        why = "" if asked.bits is None else f"; {WORTH_MOST}"
        if asked.why == sessions.TIPPED:
            why = " again; this test alone tipped the answer"
        found = f"In gear {asked.gear} turn the input {turns} and read the output{why}."
    if not view.then:
        return [found]
    from cogtally.show.box import then

    return [found, then(view.answer, view.then)]


def prompt(question: sessions.Question | None) -> str:
    """Return what stands before the entry."""
    return f"{question.asked if question else ''}> "


def how_lines(question: sessions.Question | None, family: Family | None) -> list[str]:
    """Return how to do what was asked."""
    if question is not None and question.feature:
        return list(_LOOKING if question.feature == sessions.MARK else _LOOKED_AT)
    if question is None or question.wheel:
        return [*_COUNTING, SAFETY]
    turns = "1 whole turn" if question.turns == 1 else f"{question.turns} whole turns"
    lines = [line.format(gear=question.gear, turns=turns) for line in _TURNING]
    if family is not None and family.layout == "axle":
        lines.append(_HELD.format(gear=question.gear))
    return [*lines, SAFETY]


def entered_line(outcome: sessions.Outcome, before: Answer, after: Answer) -> str:
    """Return what an entry did, with the answer in one line and how it moved; empty for a wish."""
    about = outcome.about
    if about is None:
        return ""
    if outcome.kind in sessions.LOOKED:
        return f"{_entered(about)}: {answer_line(after, before)}"
    if outcome.kind == sessions.SKIP:
        return f"Left out: {_skipped(about)}. Name another wheel, or write turn."
    if outcome.kind == sessions.BACK:
        return f"Taken back: {_undone(about)}. Now {answer_line(after, before)}."
    return ""


def answer_line(answer: Answer, before: Answer | None = None) -> str:
    """Return an answer in one line; with `before`, how it moved from there."""
    if not (answer.seen.words or answer.seen.looks):
        return "nothing is counted yet"
    verdict = answer.verdict
    label, share = _label(verdict), screen.per_cent(verdict.probability)
    now = f"{label}, {share}"
    if before is None:
        return now
    if not (before.seen.words or before.seen.looks):
        return f"{now}; nothing was counted before"
    was = screen.per_cent(before.verdict.probability)
    if _label(before.verdict) != label:
        same_family = before.verdict.family == verdict.family
        return f"{now}; was {_label(before.verdict, with_family=not same_family)}, {was}"
    if was == share:
        return f"{now}, as before"
    rose = verdict.probability > before.verdict.probability
    return f"{now}, {'up' if rose else 'down'} from {was}"


def turned_line(answer: Answer) -> str:
    """Return the question whether a pair was written the wrong way round; empty where none is."""
    turned = answer.turned
    if turned is None:
        return ""
    meant = screen.written_list(turned.meant)
    read = screen.written_list(turned.read)
    return f"{read}: did you mean {meant}? Then write back, and that again."


def _label(verdict: Verdict, with_family: bool = True) -> str:
    """What a verdict leans to, by ids, short enough for a line."""
    if verdict.leaning == UNCATALOGUED or not verdict.family:
        return "not in the catalog"
    if verdict.leaning == NEW:
        return f"a set of {verdict.family} that the catalog lacks"
    sets = verdict.sets
    if len(sets) == 1:
        name = f"{verdict.family}/{sets[0]}" if with_family else sets[0]
    else:
        several = (
            screen.written_list(sets, "or")
            if len(sets) <= SETS_NAMED
            else f"{len(sets)} sets alike"
        )
        name = f"{verdict.family}, {several}" if with_family else several
    if verdict.leaning == TO_RECOUNT:
        off = [d.wheel for d in verdict.disagrees]
        wheels = screen.written_list(off) if len(off) <= SETS_NAMED else f"{len(off)} wheels"
        return f"{name}, {wheels} to count again"
    if verdict.names_sets:
        return name
    if verdict.leaning == MIXED:
        strangers = screen.written_list(foreign.piece for foreign in verdict.foreign)
        return f"a mixture, {name} but for {strangers}" if strangers else f"a mixture of {name}"
    return f"a variant of {name}"


def _count_question(view: sessions.View, asked: sessions.Question) -> str:
    family = view.answer.family
    counted = counted_wheels(view.answer.seen, family).get(_kept(family, asked.wheel))
    again = f" again ({_results(counted)} so far)" if counted else ""
    what = f"Count {asked.wheel}{again}"
    if asked.why == sessions.ALL_AGAIN:
        what = f"Count all of it again, now {asked.wheel} ({_results(counted)} so far)"
    known = [part for part in (_where(family, asked.wheel), _why(view, asked)) if part]
    return f"{what}: {'; '.join(known)}." if known else f"{what}."


def _results(counted: Counted | None) -> str:
    return screen.written_list(str(result) for result in counted.results) if counted else ""


def _why(view: sessions.View, asked: sessions.Question) -> str:
    """The reason that a count is asked for."""
    if asked.why == sessions.ALL_AGAIN:
        return "the counting looks hasty"
    if asked.why == sessions.RECOUNT:
        verdict = view.answer.verdict
        for recount in view.answer.recounts:
            alone = recount.without is None and recount.wheel == asked.wheel
            if alone and verdict.names_sets and recount.listed is not None:
                return f"{screen.written_list(verdict.sets, 'or')} has {recount.listed} there"
        return "one count alone speaks for this answer"
    if asked.why == sessions.TIPPED:
        return "this count alone tipped the answer"
    if asked.why == sessions.PIECE:
        left = len(view.uncounted) - len(view.unreachable)
        return "the last piece to count" if left == 1 else f"{left} pieces to count"
    return "" if asked.bits is None else WORTH_MOST


def _look(view: sessions.View) -> str:
    if view.look is None:
        return ""
    from cogtally.show.box import look_words

    return look_words(view.answer, view.look)


def _where(family: Family | None, wheel: str) -> str:
    """Where a wheel is found: its other name, its piece, its place on that."""
    if family is None:
        return ""
    kept = _kept(family, wheel)
    piece = family.piece_of.get(kept)
    if piece is None:
        return f"{family.id} has no such wheel"
    others = [n for n, k in family.train.names.items() if k == kept and n != wheel]
    known = [*(f"also {name}" for name in others), piece.name]
    if len(piece.wheels) > 1:
        known.append(f"wheel {piece.wheels.index(kept) + 1} of {len(piece.wheels)}")
    return ", ".join(known)


def _kept(family: Family | None, wheel: str) -> str:
    return wheel if family is None else family.train.names.get(wheel, wheel)


def _skipped(step: sessions.Step) -> str:
    return f"turn tests of gear {step.of[:-1]}" if step.of.endswith("@") else step.of


def _entered(step: sessions.Step) -> str:
    """What was seen, as it can be typed again."""
    seen = step.kind == sessions.SEEN
    return " ".join(step.words) if seen else screen.plain(f"{step.kind} {step.words[0]}")


def _undone(step: sessions.Step) -> str:
    if step.kind in sessions.LOOKED:
        return _entered(step)
    if step.kind == sessions.SKIP:
        return f"that {_skipped(step)} cannot be seen"
    wheel, gear, _ = sessions.question_of(step.of)
    return f"the wish for {wheel or f'a turn test of gear {gear}'}"


#: The ends as the list and the options call them.
_ENDS = {sessions.NAME: "quick", sessions.SURE: "sure"}
#: In the list what is said of a session stands beside its id where so many columns are left.
LEAST_ROOM = 36
_FOR = {
    sessions.NAME: "to name the box",
    sessions.SURE: "to be sure that the box is not mixed: every piece gets a count",
}


def first_lines(bench: sessions.Bench, catalog: Catalog, family: str) -> list[str]:
    """Return what a session begins with."""
    asked = (
        f"{family} alone"
        if family
        else screen.number_of(len(catalog.families), "family", "families")
    )
    sets = len(catalog.by_id[family].sets) if family else catalog.set_count
    lines = [f"At the bench, {_FOR[bench.end]}."]
    name = f"the catalog {screen.plain(catalog.name)}" if catalog.name else "the catalog"
    lines.append(f"Asking {name}: {asked}, {screen.number_of(sets, 'set')}.")
    if catalog.demo:
        lines.append(screen.DEMO_CAUTION)
    return [*lines, SAFETY, "? lists what can be written, how tells how to count."]


def resumed_lines(session: sessions.Session, view: sessions.View) -> list[str]:
    """Return where a session stands that is taken up again."""
    bench = session.bench
    lines = [
        f"Session {session.id}{_titled(session)}, begun {_time(session.begun)}, "
        f"last entry {_time(session.last)}."
    ]
    if bench.last_seen is not None:
        # As it can be typed again.
        looks = [*(f"mark {m}" for m in bench.marks), *(f"feature {f}" for f in bench.features)]
        seen = "; ".join([*filter(None, [" ".join(bench.words)]), *looks])
        lines.append(f"Seen so far: {screen.plain(seen)}")
        lines.append(f"So far it is {answer_line(view.answer)}.")
    if bench.skipped:
        lines.append(f"Left out: {' '.join(sorted(key.rstrip('@') for key in bench.skipped))}")
    if view.ending:
        lines.append(f"{end_line(view)} You can go on all the same, or quit.")
    return lines


def changed_line(before: sessions.Asked, now: sessions.Asked) -> str:
    """Return what to say where a session asks another catalog than before; empty where not."""
    if (before.catalog, before.demo) != (now.catalog, now.demo):
        return "This session asked another catalog before. The answer is of the one asked now."
    if before.digest != now.digest:
        return (
            "The catalog has changed since the last entry of this session. "
            "The answer is of what it holds now."
        )
    return ""


def end_line(view: sessions.View) -> str:
    """Return why a session has ended by itself."""
    if view.ending == sessions.NAMED:
        if view.answer.verdict.disagrees and view.answer.verdict.names_sets:
            return "This answer has reached 90 %, but not every wheel agrees."
        return "Settled: this answer has reached 90 %."
    if view.ending == sessions.ALL_COUNTED:
        seeable = " that can be seen" if view.unreachable else ""
        return f"Every piece{seeable} has a count."
    if view.ending == sessions.SPENT:
        return "Nothing more that can be seen is worth 0.05 bit."
    return ""


def kept_lines(session_id: str, view: sessions.View | None, end: str) -> list[str]:
    """Return how to take a session up again; `view` where it ended with an answer."""
    if not session_id:
        return ["Nothing was entered, so nothing is kept."]
    again = f"cogtally session --resume {session_id}"
    lines = ["The session is kept. To go on with it:", again]
    if view is None or view.ending != sessions.NAMED or end != sessions.NAME:
        return lines
    if view.answer.verdict.is_clean and view.uncounted:
        lines += ["To be sure that the box is not mixed:", f"{again} --sure"]
    return lines


def command_line(bench: sessions.Bench, asked: sessions.Asked) -> str:
    """Return the one line for a shell that asks the same of the same catalog."""
    line = ["cogtally", "identify"]
    if asked.demo:
        line.append("--demo")
    elif asked.catalog:
        line += ["--catalog", asked.catalog]
    if asked.family:
        line += ["--family", asked.family]
    line += bench.words
    for mark in bench.marks:
        line += ["--mark", mark]
    for feature in bench.features:
        line += ["--feature", feature]
    if os.name == "nt":
        from subprocess import list2cmdline

        return list2cmdline(line)
    from shlex import join

    return join(line)


def list_lines(every: Sequence[sessions.Session], width: int) -> list[str]:
    """Return the sessions that are kept: id, time, title, then the answer so far and of what."""
    if not every:
        return ["No session is kept."]
    found = []
    wide = max(len(session.id) for session in every)
    for session in every:
        head = f"{session.id:<{wide}}  {_time(session.last)}  "
        about = [screen.plain(session.so_far), *_listed(session)]
        texts = [screen.plain(session.asked.title), "; ".join(filter(None, about))]
        room = width - len(head)
        if room < LEAST_ROOM:
            found.append(head.rstrip())
            head, room = " " * 4, width - 4
        lines = [line for text in filter(None, texts) for line in screen.wrapped(text, room)]
        found += [f"{head if n == 0 else '':<{len(head)}}{line}" for n, line in enumerate(lines)]
    return found


def deleted_lines(session: sessions.Session | None, session_id: str) -> list[str]:
    """Return that a session was deleted, and how to ask again what was counted in it."""
    if session is None:
        return [f"Session {session_id}, which could not be read, is deleted."]
    lines = [f"Session {session_id}{_titled(session)} is deleted."]
    if session.bench.last_seen is not None:
        again = command_line(session.bench, session.asked)
        lines += ["What was counted in it, in one line:", again]
    return lines


def _titled(session: sessions.Session) -> str:
    return f" ({screen.plain(session.asked.title)})" if session.asked.title else ""


def list_json(every: Sequence[sessions.Session]) -> dict[str, Any]:
    """Return the sessions that are kept as a document for machines."""
    return {
        "format": screen.FORMAT,
        "sessions": [
            {
                "id": s.id,
                **screen.known_of(s, "title=asked.title"),
                **screen.keys_of(s, "begun", "last", "end=asked.end"),
                **screen.known_of(s, "so_far", "catalog=asked.catalog"),
                "demo": s.asked.demo,
                **screen.known_of(s, "family=asked.family"),
                **screen.keys_of(s.bench, "seen=words", "marks", "features"),
                "skipped": sorted(s.bench.skipped),
            }
            for s in every
        ],
    }


def _listed(session: sessions.Session) -> list[str]:
    """How much was seen, for which end, of which catalog and family."""
    bench, asked = session.bench, session.asked
    named = screen.plain(PurePath(asked.catalog).name) if asked.catalog else "own book"
    catalog = "demo" if asked.demo else named
    family = f", {asked.family}" if asked.family else ""
    seen = f"{len([*bench.words, *bench.marks, *bench.features])} seen"
    return [seen, _ENDS[asked.end], f"{catalog}{family}"]


def _time(text: str) -> str:
    """A moment to the minute, as it was at the bench."""
    return screen.plain(text[:16].replace("T", " "))
