"""How a table over teeth of the diameters and spans to expect looks on a screen.

The arithmetic is left to `gears.callipers_ahead`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.callipers import SPAN_MARGIN_MM, UNITS, SpanExpected, Wheel, expected_span
from cogtally.show.gauge.words import NOTHING, OFF, length_text, unit_words
from cogtally.show.screen.caution import LINE
from cogtally.show.screen.console import DIM, STRONG, wrapped, written_list
from cogtally.show.screen.table import fits, table_lines, tables_lines

if TYPE_CHECKING:
    from rich.console import Console


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
            for note in _notes(wheels, unit, width_mm)
            for line in wrapped(note, width, hanging=2)
        ],
        [Text(line, style=DIM) for line in wrapped(LINE, width)],
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


def _notes(wheels: Sequence[Wheel], unit: str, width_mm: float | None) -> Iterator[str]:
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
