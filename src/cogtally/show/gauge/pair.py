"""How two gauged wheels at a centre distance look on a screen: whether they run, and why.

The weighing is left to `gears.callipers_two`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.callipers import BEYOND, MILLIMETRES, UNITS, Candidate, Meeting, Together
from cogtally.show.gauge.words import (
    NOTHING,
    OFF,
    STRAIGHT,
    share_text,
    signed_text,
    unit_words,
)
from cogtally.show.screen.caution import LINE
from cogtally.show.screen.console import DIM, STRONG, wrapped, written_list
from cogtally.show.screen.table import fits, table_lines, tables_lines

if TYPE_CHECKING:
    from rich.console import Console

#: Meetings shown, and none lighter than this share but the first.
MOST_SHOWN, LEAST_SHOWN = 4, 0.005
SLACK = "so much backlash that they hardly belong together at this distance"
_RUNS = {True: "yes", False: "no", None: "open"}


def show_together(found: Together, console: Console) -> None:
    """Print whether two wheels can run, what each may be, how they mesh, and the caution."""
    width = console.width
    rows = shown_meetings(found)
    parts = [
        [
            *(Text(line, style=STRONG) for line in wrapped(_sentence(found), width)),
            *(Text(line) for said in _why(found) for line in wrapped(said, width)),
        ],
        *_tables(found, rows, width),
        [Text(line) for note in _notes(found, rows) for line in wrapped(note, width, hanging=2)],
        [Text(line, style=DIM) for line in wrapped(LINE, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def shown_meetings(found: Together) -> list[Meeting]:
    """Return the meetings worth a row, heaviest first."""
    worth = [m for m in found.meetings if m.share >= LEAST_SHOWN]
    return (worth or list(found.meetings))[:MOST_SHOWN]


def _sentence(found: Together) -> str:
    first = found.meetings[0]
    at = f"at {found.centres / UNITS[found.unit]:g} {unit_words(found.unit)}"
    teeth = f"These two, of {first.first.gear.teeth} and {first.second.gear.teeth} teeth,"
    if found.verdict == "yes":
        return f"{teeth} can run together {at}."
    if found.verdict == "no":
        return f"{teeth} cannot run together {at}."
    if found.verdict == "open":
        return f"{teeth} may run together {at}: what decides it is finer than what was measured."
    return (
        f"{teeth} may run together {at}, not settled: yes {share_text(found.share(True))}, no "
        f"{share_text(found.share(False))}."
    )


def _why(found: Together) -> list[str]:
    """Return why two wheels that cannot run cannot, in the likeliest reading of both."""
    if found.verdict != "no":
        return []
    return [f"{reason[0].upper()}{reason[1:]}." for reason in found.meetings[0].mesh.reasons]


def _tables(found: Together, rows: Sequence[Meeting], width: int) -> Iterator[list[Text]]:
    wheels = [
        (str(number), place, one.gear.standard.name, _helix(one), _shift(one))
        for number, meeting in enumerate(rows, 1)
        for place, one in (("1", meeting.first), ("2", meeting.second))
    ]
    columns = ("no.", "wheel", "standard", "helix", "shift")
    one = table_lines(columns, wheels, left=(0, 1, 2))
    if fits(one, width):
        yield one
    else:
        yield from tables_lines(columns, wheels, width)
    meshes = [(str(number), *_mesh(found, m)) for number, m in enumerate(rows, 1)]
    titles = ("no.", "share", "runs", "shifts", "needed", "backlash", "contact", "angle")
    yield from tables_lines(titles, meshes, width)


def _helix(one: Candidate) -> str:
    return f"{one.gear.helix:.1f}" if one.gear.helix else STRAIGHT


def _shift(one: Candidate) -> str:
    off = one.explanation is not None and one.explanation.state == BEYOND
    return signed_text(one.gear.shift) + OFF * off


def _mesh(found: Together, meeting: Meeting) -> tuple[str, ...]:
    mesh = meeting.mesh
    by = UNITS[found.unit]
    places = 3 if found.unit == MILLIMETRES else 4
    backlash = NOTHING
    if mesh.backlash is not None:
        backlash = f"{mesh.backlash / by:+.{places}f}"
    return (
        share_text(meeting.share),
        _RUNS[meeting.runs],
        signed_text(mesh.shifts),
        NOTHING if mesh.shifts_needed is None else signed_text(mesh.shifts_needed),
        backlash,
        NOTHING if mesh.contact_ratio is None else f"{mesh.contact_ratio:.2f}",
        NOTHING if mesh.working_angle is None else f"{mesh.working_angle:.2f}",
    )


def _notes(found: Together, rows: Sequence[Meeting]) -> Iterator[str]:
    told: dict[str, list[str]] = {}
    for number, meeting in enumerate(rows, 1):
        above = number == 1 and found.verdict == "no"
        slack = (SLACK,) if meeting.is_slack else ()
        reasons = () if above else meeting.mesh.reasons
        for said in (*reasons, *slack, *meeting.mesh.warnings):
            told.setdefault(said, []).append(str(number))
        for place, one in (("1", meeting.first), ("2", meeting.second)):
            for said in one.explanation.notes if one.explanation is not None else ():
                if not said.startswith("its spans need"):
                    told.setdefault(f"wheel {place}: {said}", []).append(str(number))
    for said, numbers in told.items():
        who = f"No. {written_list(numbers)}: " if len(numbers) < len(rows) else ""
        yield f"{who}{said}." if who else f"{said[0].upper()}{said[1:]}."
    if any(meeting.mesh.backlash is not None for meeting in rows):
        error = max(meeting.backlash_error for meeting in rows)
        places = 3 if found.unit == MILLIMETRES else 4
        yield (
            "Shifts: the sum of both profile shifts, in modules, beside what would leave no "
            f"backlash. Backlash in {unit_words(found.unit)}, normal to the flanks"
            + f", give or take {error / UNITS[found.unit]:.{places}f}" * (error > 0)
            + "; minus: the teeth would bind. Angle: working pressure angle."
        )
    if any(_shift(one).endswith(OFF) for m in rows for one in (m.first, m.second)):
        yield f"{OFF} some of its measurements are further off than their tolerance."
    if len(rows) < len(found.meetings):
        rest = 1 - sum(m.share for m in rows)
        yield f"{len(found.meetings) - len(rows)} more ways to read both: {share_text(rest)}."
