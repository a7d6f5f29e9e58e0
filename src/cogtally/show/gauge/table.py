"""The explanations of a wheel's measurements, as a table and as JSON: which are shown, and how.

What stands above and below the table is left to `screen`, the arithmetic to `gears`. In JSON
lengths are in mm, angles in degrees, shifts in modules; names of keys are a promise within a format
number.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from rich.text import Text

from cogtally.gears import callipers
from cogtally.show.screen import FORMAT, fits, keys_of, signed, table_lines, tables_lines

#: A shift known no better than this, two standard deviations in modules, is not settled.
UNSETTLED_SHIFT = 0.15
NOTHING, OPEN, STRAIGHT, OFF, SEEN = "-", "open", "straight", "!", "seen"

_MM_PLACES, _INCH_PLACES = 2, 3
#: From this tolerance down, in mm, a length is shown to one digit more.
_FINE_MM = 0.02


def length_text(value: float, unit: str, tolerance: float = callipers.TOLERANCE_MM) -> str:
    """Return a length in mm as it is shown in `unit`, no finer than it can be measured."""
    places = (_INCH_PLACES if unit == callipers.INCHES else _MM_PLACES) + (tolerance < _FINE_MM)
    return f"{value / callipers.UNITS[unit]:.{places}f}"


def unit_words(unit: str) -> str:
    """Return a unit as a sentence names it."""
    return "inches" if unit == callipers.INCHES else "mm"


def share_text(share: float) -> str:
    """Return a share in per cent, never rounded to all or nothing."""
    if share > 0.999:
        return "> 99.9 %" if share < 1 - 1e-12 else "100 %"
    return "< 0.1 %" if share < 0.001 else f"{100 * share:.1f} %"


def helix_text(explanation: callipers.Explanation) -> str:
    """Return the helix of an explanation in degrees, or that it is straight or open."""
    fit = explanation.fit
    if fit.helix == 0:
        return STRAIGHT
    return OPEN if fit.helix_error > callipers.UNSETTLED_HELIX_DEG else f"{fit.helix:.1f}"


def shift_text(explanation: callipers.Explanation) -> str:
    """Return the profile shift of an explanation in modules, or that it is open."""
    fit = explanation.fit
    return OPEN if fit.shift_error > UNSETTLED_SHIFT else signed(fit.shift)


#: Explanations shown, unless all are asked for.
MOST_SHOWN = 6
#: Columns that stay together where a table is cut: number, standard and share.
_FEWEST_ABOVE = 3


def shown_rows(answer: callipers.Gauging, everything: bool = False) -> list[callipers.Explanation]:
    """Return what is shown, heaviest first; what is nearly the same as one, joined to it."""
    kept: list[callipers.Explanation] = []
    for explanation in answer.explanations:
        twin = next((i for i, e in enumerate(kept) if e.is_like(explanation)), None)
        if twin is None:
            kept.append(explanation)
        else:
            kept[twin] = replace(kept[twin], share=kept[twin].share + explanation.share)
    if everything:
        return kept
    shown: list[callipers.Explanation] = []
    for e in kept:
        # Of a rare explanation that fits it is enough to see the best of its standard.
        other = e.fits and answer.named is None and e.standard not in {s.standard for s in shown}
        if e.share >= callipers.LEAST_SHARE or other:
            shown.append(e)
    return (shown or kept)[:MOST_SHOWN]


def worth_measuring(
    answer: callipers.Gauging, rows: Sequence[callipers.Explanation]
) -> Sequence[callipers.Parting]:
    """Return what would part the explanations; where one outweighs all, what would part the rest.

    Beside one that is far the heaviest the others have no weight to be parted by, but they fit.
    """
    if answer.named is not None:
        return ()
    if outweighs(rows):
        alike = tuple(replace(e, share=1 / len(rows)) for e in rows)
        return callipers.partings(replace(answer, explanations=alike))
    return callipers.partings(answer)


def outweighs(rows: Sequence[callipers.Explanation]) -> bool:
    """Tell whether the first of the rows shown leaves the others next to no weight."""
    return len(rows) > 1 and rows[1].share < callipers.LEAST_SHARE


def table_of(
    answer: callipers.Gauging,
    rows: Sequence[callipers.Explanation],
    advice: callipers.Parting | None,
    width: int,
) -> Iterator[list[Text]]:
    """Yield the table of explanations, in two or more where it is wider than the screen."""
    if not rows:
        return
    seen = answer.seen
    columns: list[str] = ["no.", "standard"]
    cells: list[list[str]] = [[SEEN, ""]]
    cells += [[str(i), e.standard.name] for i, e in enumerate(rows, 1)]

    def add(title: str, measured: str, values: Iterable[str]) -> None:
        columns.append(title)
        for row, value in zip(cells, (measured, *values), strict=True):
            row.append(value)

    add("share", "", (share_text(e.share) for e in rows))
    if seen.teeth is None:
        add("teeth", "", (str(e.fit.teeth) for e in rows))
    add("helix", "", map(helix_text, rows))
    add("shift", "", map(shift_text, rows))
    behind = len(columns)
    for i, at in enumerate(rows[0].predictions):
        if at.what == "helix" and at.measured == 0:
            continue
        values = [_expected(e.predictions[i], seen) for e in rows]
        add(_title(at, seen), _value(at.what, at.measured, seen), values)
    if seen.centres is not None and seen.mate is not None:
        mate, centres = seen.mate, seen.centres
        add("mate's", "", (signed(e.fit.mate_shift(mate, centres)) for e in rows))
    if any(_wide(e, seen) for e in rows) and seen.width is None:
        needs = [length_text(_wide(e, seen), seen.unit) if _wide(e, seen) else "any" for e in rows]
        add("wider than", "", needs)
    if advice is not None:
        by_twin = [next((v for e, v in advice.expected if e.is_like(row)), None) for row in rows]
        values = [NOTHING if v is None else _value(advice.what, v, seen) for v in by_twin]
        title = "helix, tip" if advice.what == "helix" else advice.what
        add(f"{title} next", "?", values)
    one = table_lines(columns, cells, left=(0, 1))
    if fits(one, width):
        yield one
        return
    first = len(columns)
    while True:
        upper = table_lines(columns[:first], [row[:first] for row in cells[1:]], left=(0, 1))
        # What belongs to an explanation stands above, what was measured below.
        if first <= behind and (fits(upper, width) or first == _FEWEST_ABOVE):
            break
        first -= 1
    yield upper
    yield from tables_lines(
        [columns[0], *columns[first:]], [[row[0], *row[first:]] for row in cells], width
    )


def _title(at: callipers.Prediction, seen: callipers.Measured) -> str:
    if at.what == "helix" and seen.helix_at == callipers.AT_TIP:
        return "helix, tip"
    return "helix seen" if at.what == "helix" else at.what


def _value(what: str, value: float, seen: callipers.Measured) -> str:
    return f"{value:.1f}" if what == "helix" else length_text(value, seen.unit, seen.tolerance)


def _expected(at: callipers.Prediction, seen: callipers.Measured) -> str:
    off = abs(at.off) > at.tolerance * (1 + 1e-9)
    return _value(at.what, at.expected, seen) + OFF * off


def _wide(explanation: callipers.Explanation, seen: callipers.Measured) -> float:
    return callipers.widest_needed(explanation.fit, seen) if explanation.fit.helix else 0.0


def gauging_json(answer: callipers.Gauging) -> dict[str, Any]:
    """Return all explanations as plain values, heaviest first; null where nothing was measured."""
    return {
        "format": FORMAT,
        "seen": _seen(answer.seen),
        "named": None if answer.named is None else standard_json(answer.named),
        "sentence": answer.sentence,
        "standards": [
            {**standard_json(standard), "share": share} for standard, share in answer.standards
        ],
        "explanations": [_explanation(e) for e in answer.explanations],
        "next": [_parting(p) for p in worth_measuring(answer, shown_rows(answer))],
        "slips": list(answer.slips),
    }


def ahead_json(wheels: Sequence[callipers.Wheel]) -> dict[str, Any]:
    """Return a row for each number of teeth; `points` and `flat` equal `outside` where even."""
    first = wheels[0]
    return {
        "format": FORMAT,
        "standard": standard_json(first.standard),
        **keys_of(first, "helix", "shift"),
        "wheels": [
            {
                **keys_of(wheel, "teeth", "outside", "points", "flat", "reference", "root", "base"),
                **keys_of(wheel, "tip_helix", "tip_land"),
                "spans": [
                    keys_of(span, "across", "length", "width_needed", "touches_flank")
                    for span in wheel.spans
                ],
                "warnings": list(wheel.warnings),
            }
            for wheel in wheels
        ],
    }


def together_json(found: callipers.Together) -> dict[str, Any]:
    """Return every meeting of two wheels, heaviest first; null where they share no mesh."""
    return {
        "format": FORMAT,
        **keys_of(found, "centres", "verdict"),
        "shares": {
            "runs": found.share(True),
            "open": found.share(None),
            "cannot": found.share(False),
        },
        "meetings": [
            {
                **keys_of(meeting, "share", "runs"),
                "wheels": [_candidate(meeting.first), _candidate(meeting.second)],
                **keys_of(meeting.mesh, "shifts", "shifts_needed", "backlash"),
                **keys_of(meeting, "backlash_error", "much_backlash=is_slack"),
                **keys_of(meeting.mesh, "backlash_sign", "working_angle", "contact_ratio"),
                **keys_of(meeting.mesh, "clearances", "reasons", "warnings"),
            }
            for meeting in found.meetings
        ],
    }


def standard_json(standard: callipers.Standard) -> dict[str, Any]:
    """Return a standard: its name, exact normal module in mm, angle and height of teeth."""
    return {
        **keys_of(standard, "standard=name", "pitch=pitch.name"),
        "module": str(standard.pitch.module),
        "module_mm": standard.module_mm,
        "pressure_angle": float(standard.angle_deg),
        "tooth": standard.tooth,
    }


def _seen(seen: callipers.Measured) -> dict[str, Any]:
    return {
        **keys_of(seen, "teeth", "outside", "jaws"),
        "spans": [keys_of(span, "across", "length") for span in seen.spans],
        **keys_of(seen, "helix", "helix_at", "centres", "mate", "width", "depth"),
        **keys_of(seen, "tolerance", "helix_tolerance", "written_in=unit"),
    }


def _explanation(explanation: callipers.Explanation) -> dict[str, Any]:
    fit = explanation.fit
    return {
        **standard_json(explanation.standard),
        **keys_of(explanation, "share", "fits", "state"),
        **keys_of(fit, "teeth", "helix", "helix_error", "shift", "shift_error", "thinning"),
        **keys_of(fit, "tips_lower_by=cut", "worst"),
        "expected": [
            keys_of(at, "what", "measured", "expected", "tolerance")
            for at in explanation.predictions
        ],
        "notes": list(explanation.notes),
    }


def _parting(parting: callipers.Parting) -> dict[str, Any]:
    return {
        **keys_of(parting, "measure=what", "finely=fine", "tolerance", "parts"),
        "expected": [
            {
                "standard": e.standard.name,
                **keys_of(e.fit, "teeth", "helix", "shift"),
                "expected": value,
            }
            for e, value in parting.expected
        ],
    }


def _candidate(candidate: callipers.Candidate) -> dict[str, Any]:
    gear = candidate.gear
    own = keys_of(gear, "teeth", "helix", "shift", "thinning", "outside", "hand")
    return {**standard_json(gear.standard), **own}
