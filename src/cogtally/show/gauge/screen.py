"""How the explanations of a wheel's measurements look on a screen, and what to measure next.

Which explanations there are is left to `gears.callipers`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.callipers import (
    BEYOND,
    MILLIMETRES,
    SOUND,
    SPAN_MARGIN_MM,
    TRUE,
    UNITS,
    UNSETTLED_HELIX_DEG,
    Candidate,
    Explanation,
    Gauging,
    Measured,
    Meeting,
    Parting,
    SpanExpected,
    Together,
    Wheel,
    expected_span,
)
from cogtally.show.gauge.table import (
    NOTHING,
    OFF,
    OPEN,
    STRAIGHT,
    UNSETTLED_SHIFT,
    helix_text,
    length_text,
    outweighs,
    share_text,
    shift_text,
    shown_rows,
    signed_text,
    table_of,
    unit_words,
    worth_measuring,
)
from cogtally.show.screen import (
    CAUTION,
    DIM,
    STRONG,
    fits,
    table_lines,
    tables_lines,
    wrapped,
    written_list,
)

if TYPE_CHECKING:
    from rich.console import Console


#: Pitches named one by one; a standard with so much of the weight is named beside the headline.
MOST_PITCHES, HEAVY = 4, 0.9
#: What the table says in a column of its own.
_SAID_IN_TABLE = ("these measurements do not settle", "its spans need a wheel wider", "the mate of")
_HOW_TAKEN = {
    "points": "tip to tip with narrow jaws",
    "flat": "a wide jaw on two tips",
    TRUE: "so that it reads true",
}


def show_gauging(answer: Gauging, console: Console, *, everything: bool = False) -> None:
    """Print the headline, the table of explanations, notes, what to do next, and the caution."""
    width = console.width
    rows = shown_rows(answer, everything)
    found = worth_measuring(answer, rows)
    advice = found[0] if found else None
    parts = [
        [
            *(Text(line, style=STRONG) for line in wrapped(answer.sentence, width)),
            *_plain(_detail(answer, rows), width),
        ],
        *table_of(answer, rows, advice, width),
        [line for note in _notes(answer, rows, everything) for line in _hung(note, width)],
        [line for text in _next(answer, rows, found) for line in _plain(text, width)],
        [Text(line, style=DIM) for line in wrapped(CAUTION, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def notes(seen: Measured) -> list[str]:
    """Return what was written down and is not used, one sentence each."""
    if seen.mate is not None and seen.centres is None:
        return ["the mate's teeth say nothing without --centres"]
    return []


def _detail(answer: Gauging, rows: Sequence[Explanation]) -> str:
    """Return what the headline leaves open: helix and shift, or what all that fit share."""
    if answer.named is not None:
        best = next(e for e in rows if e.standard == answer.named)
        fit = best.fit
        said = [f"{fit.teeth} teeth"] if answer.seen.teeth is None else []
        if fit.helix == 0:
            said.append("straight teeth")
        elif fit.helix_error > UNSETTLED_HELIX_DEG:
            said.append("its helix is not settled")
        else:
            said.append(f"helix {fit.helix:.1f} degrees, give or take {fit.helix_error:.1f}")
        if fit.shift_error > UNSETTLED_SHIFT:
            said.append("its profile shift is not settled")
        else:
            said.append(f"profile shift {signed_text(fit.shift)} modules")
        return _sentence(", ".join(said))
    fitting = answer.fitting
    if not fitting:
        return ""
    pitches = list(dict.fromkeys(e.standard.pitch.name for e in fitting))
    number = len({e.standard for e in fitting})
    if len(pitches) == 1:
        text = f"All that fit are {pitches[0]}: the pitch is not in doubt." if number > 1 else ""
    elif len(pitches) <= MOST_PITCHES:
        text = f"They are of {written_list(pitches)}."
    else:
        text = f"They are of {len(pitches)} pitches, from {_extremes(fitting)}."
    leader, share = answer.standards[0]
    if share >= HEAVY and number > 1:
        text += f" {_sentence(f'{leader.name} has {share_text(share)} of the weight')}"
    return text


def _extremes(fitting: Iterable[Explanation]) -> str:
    by_size = sorted((e.standard.module_mm, e.standard.pitch.name) for e in fitting)
    return f"{by_size[0][1]} to {by_size[-1][1]}"


def _notes(answer: Gauging, rows: Sequence[Explanation], everything: bool) -> Iterator[str]:
    """Yield what the marks mean, what must be said beside rows, and what is not shown."""
    seen = answer.seen
    if rows:
        said = (
            f"Lengths in {unit_words(seen.unit)}, each taken to lie within "
            f"{seen.tolerance / UNITS[seen.unit]:.2g}; shift in modules. Share: of the weight of "
            "all that was looked for."
        )
        if seen.outside is not None and seen.jaws in _HOW_TAKEN:
            said += f" The diameter was taken {_HOW_TAKEN[seen.jaws]}."
        yield said
        if seen.centres is not None and seen.mate is not None:
            yield f"Mate's: the shift that its mate of {seen.mate} teeth would have."
        if any(e.state == BEYOND for e in rows):
            yield f"{OFF} further off than that."
        if any(OPEN in (helix_text(e), shift_text(e)) for e in rows):
            yield f"{OPEN}: these measurements do not settle it."
    told: dict[str, list[str]] = {}
    for number, explanation in enumerate(rows, 1):
        for note in explanation.notes:
            if not note.startswith(_SAID_IN_TABLE):
                told.setdefault(note, []).append(str(number))
    for note, numbers in told.items():
        who = "" if len(numbers) == len(rows) > 1 else f"No. {written_list(numbers)}: "
        yield f"{who}{note}." if who else _sentence(note)
    if rows and all(e.state != SOUND for e in rows if e.fits) and answer.fitting:
        yield "What fits, fits only with wear, thinned teeth or lowered tips: possible, not proved."
    if answer.slips:
        yield f"Or a slip: {'; or '.join(answer.slips)}."
    shown = {e.standard for e in rows}
    left = {e.standard for e in answer.fitting if e.standard not in shown}
    if not left or everything:
        return
    share = share_text(sum(s for standard, s in answer.standards if standard in left))
    many = f"{len(left)} more standards" if len(left) > 1 else "One more standard"
    fit = "fit" if len(left) > 1 else "fits"
    if answer.named is not None:
        # Whatever fits beside the one that is named is not sound.
        yield f"{many} {fit} only with thin teeth or lowered tips, {share}; see --all."
    else:
        yield f"{many} {fit}, {share}{' together' * (len(left) > 1)}; see --all."


def _next(answer: Gauging, rows: Sequence[Explanation], found: Sequence[Parting]) -> Iterator[str]:
    """Yield the measurement worth most, and the next best of another kind."""
    if answer.named is not None:
        return
    if not found:
        if not answer.explanations:
            yield "Next: count the teeth again, and measure everything again."
        elif len(rows) == 1:
            yield "Next: nothing left to measure would settle it; look at flanks and tips for wear."
        elif answer.fitting:
            yield "Next: nothing left to measure with callipers would part these."
        return
    seen, advice = answer.seen, found[0]
    if advice.parts >= 1 or outweighs(rows):
        yield f"Next: measure {_asked(advice, seen)}; the last column says what each expects."
    else:
        yield (
            f"Next: measure {_asked(advice, seen)}. It would settle {share_text(advice.parts)} of "
            "what is open; the last column says what each expects."
        )
    kind = advice.what.partition(" ")[0]
    other = next((p for p in found if p.what.partition(" ")[0] != kind and p.parts > 0.1), None)
    if other is not None and not outweighs(rows):
        yield f"Or {_asked(other, seen)}: {share_text(other.parts)}."


def _asked(parting: Parting, seen: Measured) -> str:
    kind, _, across = parting.what.partition(" ")
    words = {
        "outside": "the outside diameter",
        "span": f"the span across {across} {'tooth' if across == '1' else 'teeth'}",
        "helix": "the helix angle at the tips",
        "depth": "the whole depth of a tooth",
    }[kind]
    if not parting.fine:
        return words
    if kind == "helix":
        return f"{words}, with a protractor to {parting.tolerance:g} degrees"
    by = UNITS[seen.unit]
    return f"{words}, with a micrometer to {parting.tolerance / by:.1g} {seen.unit}"


def _plain(text: str, width: int) -> list[Text]:
    return [Text(line) for line in wrapped(text, width)] if text else []


def _hung(text: str, width: int) -> list[Text]:
    return [Text(line) for line in wrapped(text, width, hanging=2)]


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def show_ahead(
    wheels: Sequence[Wheel], unit: str, width_mm: float | None, console: Console
) -> None:
    """Print what to expect of each number of teeth, then what is doubtful, then the caution.

    `width_mm` is that of the toothed face, where it is known.
    """
    width = console.width
    parts = [
        [Text(line, style=STRONG) for line in wrapped(_heading(wheels[0]), width)],
        *_tables(wheels, unit, width_mm, width),
        [
            Text(line)
            for note in _ahead_notes(wheels, unit, width_mm)
            for line in wrapped(note, width, hanging=2)
        ],
        [Text(line, style=DIM) for line in wrapped(CAUTION, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def _heading(wheel: Wheel) -> str:
    helix = f"helix {wheel.helix:g} degrees" if wheel.helix else "straight teeth"
    shift = f", profile shift {wheel.shift:+g} modules" if wheel.shift else ", no profile shift"
    return f"To expect of {wheel.standard.name}: {helix}{shift}."


def _tables(
    wheels: Sequence[Wheel], unit: str, width_mm: float | None, width: int
) -> Iterator[list[Text]]:
    """Yield the diameters and the spans, side by side where the screen is wide enough."""

    def length(value: float) -> str:
        return length_text(value, unit)

    odd = any(wheel.teeth % 2 for wheel in wheels)
    helical = any(wheel.helix for wheel in wheels)
    columns = ["teeth", "outside"]
    columns += ["points", "flat"] if odd else []
    columns += ["reference", "root"]
    columns += ["tip helix"] if helical else []
    first_span = len(columns)
    columns += ["over", "span", "over", "span"]
    columns += ["wider than"] if helical else []
    rows = []
    for wheel in wheels:
        row = [str(wheel.teeth), length(wheel.outside)]
        if odd:
            reads = wheel.teeth % 2
            row += [length(v) if reads else NOTHING for v in (wheel.points, wheel.flat)]
        row += [length(wheel.reference), length(wheel.root)]
        row += [f"{wheel.tip_helix:.1f}"] if helical else []
        for span in wheel.spans:
            row += [str(span.across), f"{length(span.length)}{_mark(span, width_mm)}"]
        if helical:
            row.append(" / ".join(length(span.width_needed) for span in wheel.spans))
        rows.append(row)
    one = table_lines(columns, rows)
    if fits(one, width):
        yield one
        return
    yield from tables_lines(columns[:first_span], [row[:first_span] for row in rows], width)
    behind = [(row[0], *row[first_span:]) for row in rows]
    yield from tables_lines((columns[0], *columns[first_span:]), behind, width)


def _mark(span: SpanExpected, width_mm: float | None) -> str:
    narrow = width_mm is not None and width_mm <= span.width_needed
    return OFF if narrow or not span.touches_flank else ""


def _ahead_notes(wheels: Sequence[Wheel], unit: str, width_mm: float | None) -> Iterator[str]:
    said = f"Lengths in {unit_words(unit)}; no tooth thinned for backlash, no tip lowered."
    if any(wheel.teeth % 2 for wheel in wheels):
        said += (
            " Points and flat: what callipers read across odd teeth, tip to tip with narrow jaws "
            "or with a wide jaw on two tips."
        )
    if any(wheel.helix for wheel in wheels):
        said += " A wheel must be wider than the last column for either span."
    yield said
    if any(not span.touches_flank for wheel in wheels for span in wheel.spans):
        yield f"{OFF} the jaws would not touch the flank: not to be taken."
    if width_mm is not None:
        yield from _narrow(wheels, unit, width_mm)
    told: dict[str, list[str]] = {}
    for wheel in wheels:
        for warning in wheel.warnings:
            told.setdefault(warning, []).append(str(wheel.teeth))
    for warning, teeth in told.items():
        yield f"{written_list(teeth)} teeth: {warning}."


def _narrow(wheels: Sequence[Wheel], unit: str, width_mm: float) -> Iterator[str]:
    """Yield which spans a face of that width cannot give, and how many teeth to span instead."""
    narrow = [w for w in wheels if any(s.width_needed >= width_mm for s in w.spans)]
    if not narrow:
        return
    face = f"{width_mm / UNITS[unit]:g} {unit}"
    yield f"{OFF} the wheel, {face} wide, is too narrow for that span."
    instead: dict[str, list[str]] = {}
    for wheel in narrow:
        able = _spannable(wheel, width_mm - SPAN_MARGIN_MM)
        what = "no span can be taken" if able is None else f"span {able} instead"
        instead.setdefault(what, []).append(str(wheel.teeth))
    for what, teeth in instead.items():
        yield f"{written_list(teeth)} teeth: {what}."


def _spannable(wheel: Wheel, width_mm: float) -> int | None:
    """Return the most teeth, none more than the best, whose span a face of that width gives."""
    for across in range(wheel.spans[0].across, 0, -1):
        span = expected_span(wheel.standard, wheel.teeth, wheel.helix, wheel.shift, across)
        if span.touches_flank and span.width_needed <= width_mm:
            return across
    return None


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
            *(Text(line, style=STRONG) for line in wrapped(_pair_sentence(found), width)),
            *(Text(line) for said in _why(found) for line in wrapped(said, width)),
        ],
        *_pair_tables(found, rows, width),
        [
            Text(line)
            for note in _pair_notes(found, rows)
            for line in wrapped(note, width, hanging=2)
        ],
        [Text(line, style=DIM) for line in wrapped(CAUTION, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def shown_meetings(found: Together) -> list[Meeting]:
    """Return the meetings worth a row, heaviest first."""
    worth = [m for m in found.meetings if m.share >= LEAST_SHOWN]
    return (worth or list(found.meetings))[:MOST_SHOWN]


def _pair_sentence(found: Together) -> str:
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


def _pair_tables(found: Together, rows: Sequence[Meeting], width: int) -> Iterator[list[Text]]:
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


def _pair_notes(found: Together, rows: Sequence[Meeting]) -> Iterator[str]:
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
    meeting_at_all = [m for m in rows if m.mesh.contact_ratio is not None]
    if meeting_at_all:
        helical = any(m.first.gear.helix for m in meeting_at_all)
        yield (
            "Contact: the contact ratio of full tips, without chamfer or wear"
            + "; of helical teeth the transverse one, without their overlap" * helical
            + "."
        )
    if any(_shift(one).endswith(OFF) for m in rows for one in (m.first, m.second)):
        yield f"{OFF} some of its measurements are further off than their tolerance."
    if len(rows) < len(found.meetings):
        rest = 1 - sum(m.share for m in rows)
        yield f"{len(found.meetings) - len(rows)} more ways to read both: {share_text(rest)}."
