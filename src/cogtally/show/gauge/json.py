"""What callipers say as JSON: lengths in mm, angles in degrees, shifts in modules.

Names of keys are a promise within a format number; the arithmetic is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cogtally.gears import callipers
from cogtally.show.gauge.table import shown_rows, worth_measuring
from cogtally.show.screen import keys_of

FORMAT = 1


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
                "backlash_error": meeting.backlash_error,
                "much_backlash": meeting.is_slack,
                **keys_of(meeting.mesh, "backlash_sign", "working_angle", "contact_ratio"),
                **keys_of(meeting.mesh, "clearances", "reasons", "warnings"),
            }
            for meeting in found.meetings
        ],
    }


def standard_json(standard: callipers.Standard) -> dict[str, Any]:
    """Return a standard: its name, exact normal module in mm, angle and height of teeth."""
    return {
        "standard": standard.name,
        "pitch": standard.pitch.name,
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
        **keys_of(seen, "tolerance", "helix_tolerance"),
        "written_in": seen.unit,
    }


def _explanation(explanation: callipers.Explanation) -> dict[str, Any]:
    fit = explanation.fit
    return {
        **standard_json(explanation.standard),
        **keys_of(explanation, "share", "fits", "state"),
        **keys_of(fit, "teeth", "helix", "helix_error", "shift", "shift_error", "thinning"),
        "tips_lower_by": fit.cut,
        "worst": fit.worst,
        "expected": [
            keys_of(at, "what", "measured", "expected", "tolerance")
            for at in explanation.predictions
        ],
        "notes": list(explanation.notes),
    }


def _parting(parting: callipers.Parting) -> dict[str, Any]:
    return {
        "measure": parting.what,
        "finely": parting.fine,
        "tolerance": parting.tolerance,
        "parts": parting.parts,
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
    return {
        **standard_json(gear.standard),
        **keys_of(gear, "teeth", "helix", "shift", "thinning"),
        "outside": gear.tip,
        "hand": gear.hand,
    }
