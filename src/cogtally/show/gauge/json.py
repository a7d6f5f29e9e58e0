"""What callipers say as JSON: lengths in mm, angles in degrees, shifts in modules.

Names of keys are a promise within a format number; the arithmetic is left to `gears`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cogtally.gears.callipers import (
    Candidate,
    Explanation,
    Gauging,
    Measured,
    Parting,
    Standard,
    Together,
    Wheel,
)
from cogtally.show.gauge.table import shown_rows, worth_measuring

FORMAT = 1


def gauging_json(answer: Gauging) -> dict[str, Any]:
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


def ahead_json(wheels: Sequence[Wheel]) -> dict[str, Any]:
    """Return a row for each number of teeth; `points` and `flat` equal `outside` where even."""
    first = wheels[0]
    return {
        "format": FORMAT,
        "standard": standard_json(first.standard),
        "helix": first.helix,
        "shift": first.shift,
        "wheels": [
            {
                "teeth": wheel.teeth,
                "outside": wheel.outside,
                "points": wheel.points,
                "flat": wheel.flat,
                "reference": wheel.reference,
                "root": wheel.root,
                "base": wheel.base,
                "tip_helix": wheel.tip_helix,
                "tip_land": wheel.tip_land,
                "spans": [
                    {
                        "across": span.across,
                        "length": span.length,
                        "width_needed": span.width_needed,
                        "touches_flank": span.touches_flank,
                    }
                    for span in wheel.spans
                ],
                "warnings": list(wheel.warnings),
            }
            for wheel in wheels
        ],
    }


def together_json(found: Together) -> dict[str, Any]:
    """Return every meeting of two wheels, heaviest first; null where they share no mesh."""
    return {
        "format": FORMAT,
        "centres": found.centres,
        "verdict": found.verdict,
        "shares": {
            "runs": found.share(True),
            "open": found.share(None),
            "cannot": found.share(False),
        },
        "meetings": [
            {
                "share": meeting.share,
                "runs": meeting.runs,
                "wheels": [_candidate(meeting.first), _candidate(meeting.second)],
                "shifts": meeting.mesh.shifts,
                "shifts_needed": meeting.mesh.shifts_needed,
                "backlash": meeting.mesh.backlash,
                "backlash_error": meeting.backlash_error,
                "much_backlash": meeting.is_slack,
                "backlash_sign": meeting.mesh.backlash_sign,
                "working_angle": meeting.mesh.working_angle,
                "contact_ratio": meeting.mesh.contact_ratio,
                "clearances": (
                    None if meeting.mesh.clearances is None else list(meeting.mesh.clearances)
                ),
                "reasons": list(meeting.mesh.reasons),
                "warnings": list(meeting.mesh.warnings),
            }
            for meeting in found.meetings
        ],
    }


def standard_json(standard: Standard) -> dict[str, Any]:
    """Return a standard: its name, exact normal module in mm, angle and height of teeth."""
    return {
        "standard": standard.name,
        "pitch": standard.pitch.name,
        "module": str(standard.pitch.module),
        "module_mm": standard.module_mm,
        "pressure_angle": float(standard.angle_deg),
        "tooth": standard.tooth,
    }


def _seen(seen: Measured) -> dict[str, Any]:
    return {
        "teeth": seen.teeth,
        "outside": seen.outside,
        "jaws": seen.jaws,
        "spans": [{"across": span.across, "length": span.length} for span in seen.spans],
        "helix": seen.helix,
        "helix_at": seen.helix_at,
        "centres": seen.centres,
        "mate": seen.mate,
        "width": seen.width,
        "depth": seen.depth,
        "tolerance": seen.tolerance,
        "helix_tolerance": seen.helix_tolerance,
        "written_in": seen.unit,
    }


def _explanation(explanation: Explanation) -> dict[str, Any]:
    fit = explanation.fit
    return {
        **standard_json(explanation.standard),
        "share": explanation.share,
        "fits": explanation.fits,
        "state": explanation.state,
        "teeth": fit.teeth,
        "helix": fit.helix,
        "helix_error": fit.helix_error,
        "shift": fit.shift,
        "shift_error": fit.shift_error,
        "thinning": fit.thinning,
        "tips_lower_by": fit.cut,
        "worst": fit.worst,
        "expected": [
            {
                "what": at.what,
                "measured": at.measured,
                "expected": at.expected,
                "tolerance": at.tolerance,
            }
            for at in explanation.predictions
        ],
        "notes": list(explanation.notes),
    }


def _parting(parting: Parting) -> dict[str, Any]:
    return {
        "measure": parting.what,
        "finely": parting.fine,
        "tolerance": parting.tolerance,
        "parts": parting.parts,
        "expected": [
            {
                "standard": e.standard.name,
                "teeth": e.fit.teeth,
                "helix": e.fit.helix,
                "shift": e.fit.shift,
                "expected": value,
            }
            for e, value in parting.expected
        ],
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    gear = candidate.gear
    return {
        **standard_json(gear.standard),
        "teeth": gear.teeth,
        "helix": gear.helix,
        "shift": gear.shift,
        "thinning": gear.thinning,
        "outside": gear.tip,
        "hand": gear.hand,
    }
