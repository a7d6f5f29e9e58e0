"""How the explanations of a wheel's measurements look on a screen, and what to measure next.

Which explanations there are is left to `gears.callipers`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from cogtally.gears import callipers
from cogtally.show import screen
from cogtally.show.gauge import table as tables

#: Pitches named one by one; a standard with so much of the weight is named beside the headline.
MOST_PITCHES, HEAVY = 4, 0.9
#: What the table says in a column of its own.
_SAID_IN_TABLE = ("these measurements do not settle", "its spans need a wheel wider", "the mate of")
_HOW_TAKEN = {
    "points": "tip to tip with narrow jaws",
    "flat": "a wide jaw on two tips",
    callipers.TRUE: "so that it reads true",
}


def show_gauging(
    answer: callipers.Gauging, console: screen.Console, *, everything: bool = False
) -> None:
    """Print the headline, the table of explanations, notes, what to do next, and the caution."""
    width = console.width
    rows = tables.shown_rows(answer, everything)
    found = tables.worth_measuring(answer, rows)
    advice = found[0] if found else None
    parts = [
        [
            *screen.text_lines([answer.sentence], width, screen.STRONG),
            *screen.text_lines([_detail(answer, rows)], width),
        ],
        *tables.table_of(answer, rows, advice, width),
        screen.text_lines(_notes(answer, rows, everything), width, hanging=2),
        screen.text_lines(_next(answer, rows, found), width),
    ]
    screen.print_parts(parts, console)


def notes(seen: callipers.Measured) -> list[str]:
    """Return what was written down and is not used, one sentence each."""
    if seen.mate is not None and seen.centres is None:
        return ["the mate's teeth say nothing without --centres"]
    return []


def _detail(answer: callipers.Gauging, rows: Sequence[callipers.Explanation]) -> str:
    """Return what the headline leaves open: helix and shift, or what all that fit share."""
    if answer.named is not None:
        best = next(e for e in rows if e.standard == answer.named)
        fit = best.fit
        said = [f"{fit.teeth} teeth"] if answer.seen.teeth is None else []
        if fit.helix == 0:
            said.append("straight teeth")
        elif fit.helix_error > callipers.UNSETTLED_HELIX_DEG:
            said.append("its helix is not settled")
        else:
            said.append(f"helix {fit.helix:.1f} degrees, give or take {fit.helix_error:.1f}")
        if fit.shift_error > tables.UNSETTLED_SHIFT:
            said.append("its profile shift is not settled")
        else:
            said.append(f"profile shift {screen.signed(fit.shift)} modules")
        return _sentence(", ".join(said))
    fitting = answer.fitting
    if not fitting:
        return ""
    pitches = list(dict.fromkeys(e.standard.pitch.name for e in fitting))
    number = len({e.standard for e in fitting})
    if len(pitches) == 1:
        text = f"All that fit are {pitches[0]}: the pitch is not in doubt." if number > 1 else ""
    elif len(pitches) <= MOST_PITCHES:
        text = f"They are of {screen.written_list(pitches)}."
    else:
        by_size = sorted((e.standard.module_mm, e.standard.pitch.name) for e in fitting)
        ends = f"{by_size[0][1]} to {by_size[-1][1]}"
        text = f"They are of {len(pitches)} pitches, from {ends}."
    leader, share = answer.standards[0]
    if share >= HEAVY and number > 1:
        text += f" {_sentence(f'{leader.name} has {tables.share_text(share)} of the weight')}"
    return text


def _notes(
    answer: callipers.Gauging, rows: Sequence[callipers.Explanation], everything: bool
) -> Iterator[str]:
    """Yield what the marks mean, what must be said beside rows, and what is not shown."""
    seen = answer.seen
    if rows:
        said = (
            f"Lengths in {tables.unit_words(seen.unit)}, each taken to lie within "
            f"{seen.tolerance / callipers.UNITS[seen.unit]:.2g}; shift in modules. Share: of the "
            "weight of all that was looked for."
        )
        if seen.outside is not None and seen.jaws in _HOW_TAKEN:
            said += f" The diameter was taken {_HOW_TAKEN[seen.jaws]}."
        yield said
        if seen.centres is not None and seen.mate is not None:
            yield f"Mate's: the shift that its mate of {seen.mate} teeth would have."
        if any(e.state == callipers.BEYOND for e in rows):
            yield f"{tables.OFF} further off than that."
        if any(tables.OPEN in (tables.helix_text(e), tables.shift_text(e)) for e in rows):
            yield f"{tables.OPEN}: these measurements do not settle it."
    told = screen.grouped(
        (note, str(number))
        for number, explanation in enumerate(rows, 1)
        for note in explanation.notes
        if not note.startswith(_SAID_IN_TABLE)
    )
    for note, numbers in told.items():
        who = "" if len(numbers) == len(rows) > 1 else f"No. {screen.written_list(numbers)}: "
        yield f"{who}{note}." if who else _sentence(note)
    if rows and all(e.state != callipers.SOUND for e in rows if e.fits) and answer.fitting:
        yield "What fits, fits only with wear, thinned teeth or lowered tips: possible, not proved."
    if answer.slips:
        yield f"Or a slip: {'; or '.join(answer.slips)}."
    shown = {e.standard for e in rows}
    left = {e.standard for e in answer.fitting if e.standard not in shown}
    if not left or everything:
        return
    share = tables.share_text(sum(s for standard, s in answer.standards if standard in left))
    many = f"{len(left)} more standards" if len(left) > 1 else "One more standard"
    fit = "fit" if len(left) > 1 else "fits"
    if answer.named is not None:
        # Whatever fits beside the one that is named is not sound.
        yield f"{many} {fit} only with thin teeth or lowered tips, {share}; see --all."
    else:
        yield f"{many} {fit}, {share}{' together' * (len(left) > 1)}; see --all."


def _next(
    answer: callipers.Gauging,
    rows: Sequence[callipers.Explanation],
    found: Sequence[callipers.Parting],
) -> Iterator[str]:
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
    if advice.parts >= 1 or tables.outweighs(rows):
        yield f"Next: measure {_asked(advice, seen)}; the last column says what each expects."
    else:
        yield (
            f"Next: measure {_asked(advice, seen)}. It would settle "
            f"{tables.share_text(advice.parts)} of what is open; the last column "
            "says what each expects."
        )
    kind = advice.what.partition(" ")[0]
    other = next((p for p in found if p.what.partition(" ")[0] != kind and p.parts > 0.1), None)
    if other is not None and not tables.outweighs(rows):
        yield f"Or {_asked(other, seen)}: {tables.share_text(other.parts)}."


def _asked(parting: callipers.Parting, seen: callipers.Measured) -> str:
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
    by = callipers.UNITS[seen.unit]
    return f"{words}, with a micrometer to {parting.tolerance / by:.1g} {seen.unit}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def show_ahead(
    wheels: Sequence[callipers.Wheel], unit: str, width_mm: float | None, console: screen.Console
) -> None:
    """Print what to expect of each number of teeth, then what is doubtful, then the caution.

    `width_mm` is that of the toothed face, where it is known.
    """
    width, first = console.width, wheels[0]
    helix = f"helix {first.helix:g} degrees" if first.helix else "straight teeth"
    shift = f", profile shift {first.shift:+g} modules" if first.shift else ", no profile shift"
    heading = f"To expect of {first.standard.name}: {helix}{shift}."
    parts = [
        screen.text_lines([heading], width, screen.STRONG),
        *_tables(wheels, unit, width_mm, width),
        screen.text_lines(_ahead_notes(wheels, unit, width_mm), width, hanging=2),
    ]
    screen.print_parts(parts, console)


def _tables(
    wheels: Sequence[callipers.Wheel], unit: str, width_mm: float | None, width: int
) -> Iterator[list[Text]]:
    """Yield the diameters and the spans, side by side where the screen is wide enough."""

    def length(value: float) -> str:
        return tables.length_text(value, unit)

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
            row += [length(v) if reads else tables.NOTHING for v in (wheel.points, wheel.flat)]
        row += [length(wheel.reference), length(wheel.root)]
        row += [f"{wheel.tip_helix:.1f}"] if helical else []
        for span in wheel.spans:
            narrow = width_mm is not None and width_mm <= span.width_needed
            mark = tables.OFF if narrow or not span.touches_flank else ""
            row += [str(span.across), f"{length(span.length)}{mark}"]
        if helical:
            row.append(" / ".join(length(span.width_needed) for span in wheel.spans))
        rows.append(row)
    one = screen.table_lines(columns, rows)
    if screen.fits(one, width):
        yield one
        return
    yield from screen.tables_lines(columns[:first_span], [row[:first_span] for row in rows], width)
    behind = [(row[0], *row[first_span:]) for row in rows]
    yield from screen.tables_lines((columns[0], *columns[first_span:]), behind, width)


def _ahead_notes(
    wheels: Sequence[callipers.Wheel], unit: str, width_mm: float | None
) -> Iterator[str]:
    said = f"Lengths in {tables.unit_words(unit)}; no tooth thinned for backlash, no tip lowered."
    if any(wheel.teeth % 2 for wheel in wheels):
        said += (
            " Points and flat: what callipers read across odd teeth, tip to tip with narrow jaws "
            "or with a wide jaw on two tips."
        )
    if any(wheel.helix for wheel in wheels):
        said += " A wheel must be wider than the last column for either span."
    yield said
    if any(not span.touches_flank for wheel in wheels for span in wheel.spans):
        yield f"{tables.OFF} the jaws would not touch the flank: not to be taken."
    if width_mm is not None:
        yield from _narrow(wheels, unit, width_mm)
    told = screen.grouped(
        (warning, str(wheel.teeth)) for wheel in wheels for warning in wheel.warnings
    )
    for warning, teeth in told.items():
        yield f"{screen.written_list(teeth)} teeth: {warning}."


def _narrow(wheels: Sequence[callipers.Wheel], unit: str, width_mm: float) -> Iterator[str]:
    """Yield which spans a face of that width cannot give, and how many teeth to span instead."""
    narrow = [w for w in wheels if any(s.width_needed >= width_mm for s in w.spans)]
    if not narrow:
        return
    face = f"{width_mm / callipers.UNITS[unit]:g} {unit}"
    yield f"{tables.OFF} the wheel, {face} wide, is too narrow for that span."
    fits = [callipers.Fit(w.standard, w.teeth, w.helix, w.shift) for w in narrow]
    instead = screen.grouped((callipers.spannable(f, width_mm), str(f.teeth)) for f in fits)
    for able, teeth in instead.items():
        what = "no span can be taken" if able is None else f"span {able} instead"
        yield f"{screen.written_list(teeth)} teeth: {what}."


#: Meetings shown, and none lighter than this share but the first.
MOST_SHOWN, LEAST_SHOWN = 4, 0.005
SLACK = "so much backlash that they hardly belong together at this distance"
_RUNS = {True: "yes", False: "no", None: "open"}


def show_together(found: callipers.Together, console: screen.Console) -> None:
    """Print whether two wheels can run, what each may be, how they mesh, and the caution."""
    width = console.width
    rows = [m for m in found.meetings if m.share >= LEAST_SHOWN] or list(found.meetings)
    rows = rows[:MOST_SHOWN]
    # Why two wheels that cannot run cannot, in the likeliest reading of both.
    reasons = map(_sentence, found.meetings[0].mesh.reasons if found.verdict == "no" else ())
    parts = [
        [
            *screen.text_lines([_pair_sentence(found)], width, screen.STRONG),
            *screen.text_lines(reasons, width),
        ],
        *_pair_tables(found, rows, width),
        screen.text_lines(_pair_notes(found, rows), width, hanging=2),
    ]
    screen.print_parts(parts, console)


def _pair_sentence(found: callipers.Together) -> str:
    first = found.meetings[0]
    at = f"at {found.centres / callipers.UNITS[found.unit]:g} {tables.unit_words(found.unit)}"
    teeth = f"These two, of {first.first.gear.teeth} and {first.second.gear.teeth} teeth,"
    if found.verdict == "yes":
        return f"{teeth} can run together {at}."
    if found.verdict == "no":
        return f"{teeth} cannot run together {at}."
    if found.verdict == "open":
        return f"{teeth} may run together {at}: what decides it is finer than what was measured."
    return (
        f"{teeth} may run together {at}, not settled: yes {tables.share_text(found.share(True))}, "
        f"no {tables.share_text(found.share(False))}."
    )


def _pair_tables(
    found: callipers.Together, rows: Sequence[callipers.Meeting], width: int
) -> Iterator[list[Text]]:
    wheels = [
        (str(number), place, one.gear.standard.name, _helix(one), _shift(one))
        for number, meeting in enumerate(rows, 1)
        for place, one in (("1", meeting.first), ("2", meeting.second))
    ]
    columns = ("no.", "wheel", "standard", "helix", "shift")
    one = screen.table_lines(columns, wheels, left=(0, 1, 2))
    if screen.fits(one, width):
        yield one
    else:
        yield from screen.tables_lines(columns, wheels, width)
    meshes = [(str(number), *_mesh(found, m)) for number, m in enumerate(rows, 1)]
    titles = ("no.", "share", "runs", "shifts", "needed", "backlash", "contact", "angle")
    yield from screen.tables_lines(titles, meshes, width)


def _helix(one: callipers.Candidate) -> str:
    return f"{one.gear.helix:.1f}" if one.gear.helix else tables.STRAIGHT


def _shift(one: callipers.Candidate) -> str:
    off = one.explanation is not None and one.explanation.state == callipers.BEYOND
    return screen.signed(one.gear.shift) + tables.OFF * off


def _mesh(found: callipers.Together, meeting: callipers.Meeting) -> tuple[str, ...]:
    mesh = meeting.mesh
    by = callipers.UNITS[found.unit]
    places = 3 if found.unit == callipers.MILLIMETRES else 4
    return (
        tables.share_text(meeting.share),
        _RUNS[meeting.runs],
        screen.signed(mesh.shifts),
        tables.NOTHING if mesh.shifts_needed is None else screen.signed(mesh.shifts_needed),
        tables.NOTHING if mesh.backlash is None else f"{mesh.backlash / by:+.{places}f}",
        tables.NOTHING if mesh.contact_ratio is None else f"{mesh.contact_ratio:.2f}",
        tables.NOTHING if mesh.working_angle is None else f"{mesh.working_angle:.2f}",
    )


def _pair_notes(found: callipers.Together, rows: Sequence[callipers.Meeting]) -> Iterator[str]:
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
        who = f"No. {screen.written_list(numbers)}: " if len(numbers) < len(rows) else ""
        yield f"{who}{said}." if who else _sentence(said)
    if any(meeting.mesh.backlash is not None for meeting in rows):
        error = max(meeting.backlash_error for meeting in rows)
        places = 3 if found.unit == callipers.MILLIMETRES else 4
        yield (
            "Shifts: the sum of both profile shifts, in modules, beside what would leave no "
            f"backlash. Backlash in {tables.unit_words(found.unit)}, normal to the flanks"
            + f", give or take {error / callipers.UNITS[found.unit]:.{places}f}" * (error > 0)
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
    if any(_shift(one).endswith(tables.OFF) for m in rows for one in (m.first, m.second)):
        yield f"{tables.OFF} some of its measurements are further off than their tolerance."
    if len(rows) < len(found.meetings):
        rest = 1 - sum(m.share for m in rows)
        more = len(found.meetings) - len(rows)
        yield f"{more} more ways to read both: {tables.share_text(rest)}."
