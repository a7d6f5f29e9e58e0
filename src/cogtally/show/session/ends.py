"""How a session at the bench begins, ends and is taken up again, and the list of those kept.

What is said in between is left to `session`, the answer itself to `answer`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from cogtally.catalog.model import Catalog
from cogtally.shelf.session.bench import NAME, SURE, Bench
from cogtally.shelf.session.proposals import ALL_COUNTED, NAMED, SPENT, View
from cogtally.shelf.session.record import Asked, Session
from cogtally.show.screen import DEMO_CAUTION, plain
from cogtally.show.session.screen import SAFETY, answer_line

_FOR = {
    NAME: "to name the box",
    SURE: "to be sure that the box is not mixed: every piece gets a count",
}


def first_lines(bench: Bench, catalog: Catalog, family: str) -> list[str]:
    """Return what a session begins with."""
    asked = f"{family} alone" if family else _counted(len(catalog.families), "family", "families")
    sets = catalog.set_count
    if family:
        sets = len(catalog.by_id[family].sets)
    lines = [f"At the bench, {_FOR[bench.end]}."]
    name = f"the catalog {plain(catalog.name)}" if catalog.name else "the catalog"
    lines.append(f"Asking {name}: {asked}, {_counted(sets, 'set', 'sets')}.")
    if catalog.demo:
        lines.append(DEMO_CAUTION)
    return [*lines, SAFETY, "? lists what can be written, how tells how to count."]


def resumed_lines(session: Session, view: View) -> list[str]:
    """Return where a session stands that is taken up again."""
    bench = session.bench
    lines = [
        f"Session {session.id}, begun {_time(session.begun)}, last entry {_time(session.last)}."
    ]
    if bench.last_seen is not None:
        lines.append(f"Seen so far: {_seen(bench)}")
        lines.append(f"So far it is {answer_line(view.answer)}.")
    if bench.skipped:
        lines.append(f"Left out: {' '.join(sorted(key.rstrip('@') for key in bench.skipped))}")
    if view.ending:
        lines.append(f"{end_line(view)} You can go on all the same, or quit.")
    return lines


def changed_line(before: Asked, now: Asked) -> str:
    """Return what to say where a session asks another catalog than before; empty where not."""
    if (before.catalog, before.demo) != (now.catalog, now.demo):
        return "This session asked another catalog before. The answer is of the one asked now."
    if before.digest != now.digest:
        return (
            "The catalog has changed since the last entry of this session. "
            "The answer is of what it holds now."
        )
    return ""


def end_line(view: View) -> str:
    """Return why a session has ended by itself."""
    if view.ending == NAMED:
        return "Settled: this answer has reached 90 %."
    if view.ending == ALL_COUNTED:
        seeable = " that can be seen" if view.unreachable else ""
        return f"Every piece{seeable} has a count."
    if view.ending == SPENT:
        return "Nothing more that can be seen is worth 0.05 bit."
    return ""


def kept_lines(session_id: str, view: View | None, end: str) -> list[str]:
    """Return how to take a session up again; `view` where it ended with an answer."""
    if not session_id:
        return ["Nothing was entered, so nothing is kept."]
    again = f"cogtally session --resume {session_id}"
    lines = ["The session is kept. To go on with it:", again]
    settled = view is not None and view.ending == NAMED and view.answer.verdict.is_clean
    if settled and view is not None and end == NAME and view.uncounted:
        lines += ["To be sure that the box is not mixed:", f"{again} --sure"]
    return lines


def command_line(bench: Bench, asked: Asked) -> str:
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


def list_lines(sessions: Sequence[Session]) -> list[str]:
    """Return the sessions that are kept, one a line."""
    if not sessions:
        return ["No session is kept."]
    width = max(len(session.id) for session in sessions)
    return [f"{s.id:<{width}}  {_time(s.last)}  {_listed(s)}" for s in sessions]


def list_json(sessions: Sequence[Session]) -> dict[str, Any]:
    """Return the sessions that are kept as a document for machines."""
    return {
        "format": 1,
        "sessions": [
            {
                "id": s.id,
                "begun": s.begun,
                "last": s.last,
                "end": s.asked.end,
                "catalog": s.asked.catalog or None,
                "demo": s.asked.demo,
                "family": s.asked.family or None,
                "seen": list(s.bench.words),
                "marks": list(s.bench.marks),
                "features": list(s.bench.features),
                "skipped": sorted(s.bench.skipped),
            }
            for s in sessions
        ],
    }


def _listed(session: Session) -> str:
    bench = session.bench
    seen = f"{len([*bench.words, *bench.marks, *bench.features])} seen"
    asked = session.asked
    if asked.demo:
        catalog = "demo"
    else:
        catalog = plain(PurePath(asked.catalog).name) if asked.catalog else "own book"
    family = f", {asked.family}" if asked.family else ""
    return f"{asked.end}, {seen}, {catalog}{family}"


def _seen(bench: Bench) -> str:
    """All that was seen, as it can be typed again."""
    looks = [*(f"mark {m}" for m in bench.marks), *(f"feature {f}" for f in bench.features)]
    return plain("; ".join([*filter(None, [" ".join(bench.words)]), *looks]))


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _time(text: str) -> str:
    """A moment to the minute, as it was at the bench."""
    return plain(text[:16].replace("T", " "))
