"""An answer for machines: the JSON of `identify --json`.

Keys are added, never changed, within a format number. All numbers are left to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from cogtally.evidence.posterior import MATCHED, REST, Share
from cogtally.evidence.reading import Answer, Difference, LookLine, Verdict, label
from cogtally.gears.notation import ReadMark
from cogtally.show.box.remedy import Shelf, remedies_json

FORMAT = 1
#: A matched group, a so-far group or a type of a piece is listed from here on.
LEAST_LISTED = 1e-6


def answer_json(answer: Answer, shelf: Shelf | None = None) -> dict[str, Any]:
    """Return an answer as plain lists, texts and numbers, in full double precision.

    `shelf` is what is for sale, where a stock was looked through.
    """
    found = answer.posterior
    return {
        "format": FORMAT,
        "catalog": {
            "name": answer.catalog.name,
            "families": len(answer.catalog.by_id),
            "sets": answer.catalog.set_count,
            "demo": answer.catalog.demo,
        },
        "gears": [
            {"gear": g.gear, "ratio": _fraction(g.ratio), "decimal": _decimal(g.ratio)}
            for g in answer.gears
        ],
        "meshes": [
            {
                "wheels": list(m.wheels),
                "teeth": list(m.teeth),
                "sum": m.sum,
                "expected_sums": list(m.expected_sums),
                "agrees": m.agrees,
            }
            for m in answer.meshes
        ],
        "verdict": _verdict(answer.verdict),
        "remedy": remedies_json(answer, shelf),
        "checked": _checked(answer),
        **_expectation(answer),
        **_hints(answer),
        "answers": _answers(answer),
        "so_far": [
            {"family": s.family, "sets": list(s.sets), "probability": s.probability}
            for s in found.so_far
            if s.probability >= LEAST_LISTED
        ],
        "pieces": [
            {
                "family": p.family,
                "piece": p.piece,
                "type": None if p.teeth is None else list(p.teeth),
                "sets": list(p.sets),
                "probability": p.probability,
            }
            for p in found.pieces
            if p.probability >= LEAST_LISTED
        ],
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
        "nearest": [
            {
                "family": n.family,
                "set": n.set,
                "tooth_differences": n.tooth_differences,
                "worst_ratio_error": n.worst_ratio_error,
            }
            for n in answer.nearest
        ],
        **_observed(answer),
        **_next(answer),
        **_why(answer),
    }


def _observed(answer: Answer) -> dict[str, Any]:
    if not answer.looks:
        return {}

    return {"observed": observed_json(answer.looks)}


def _next(answer: Answer) -> dict[str, Any]:
    if answer.advice is None:
        return {}
    found: list[dict[str, Any]] = [
        {"wheel": w.wheel, "bits": w.bits}
        if w.wheel
        else {"turn": {"gear": w.gear, "in": w.turns}, "bits": w.bits}
        for w in [*answer.advice.wheels, *answer.advice.turns]
    ]
    found += [
        {"look": {"of": w.owner, "at": w.feature}, "bits": w.bits} for w in answer.advice.looks
    ]
    return {
        "next": sorted(found, key=lambda worth: -worth["bits"]),
        "count_all_again": answer.advice.count_all_again,
    }


def _why(answer: Answer) -> dict[str, Any]:
    account = answer.account
    if account is None:
        return {"why": None}
    return {
        "why": {
            "for": label(account.headline),
            "against": label(account.rival),
            "so_far": account.so_far,
            "rows": [{"seen": r.seen, "bits": r.bits, "because": r.because} for r in account.rows],
            "total": account.total,
        }
    }


def _fraction(ratio: Fraction | None) -> str | None:
    return None if ratio is None else str(ratio)


def _decimal(ratio: Fraction | None) -> float | None:
    return None if ratio is None else float(ratio)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "kind": verdict.kind,
        "leaning": verdict.leaning,
        "family": verdict.family or None,
        "sets": list(verdict.sets),
        "probability": verdict.probability,
        "whole_box": verdict.whole_box,
        "not_counted": list(verdict.not_counted),
        "foreign": [
            {
                "piece": f.piece,
                "type": list(f.teeth),
                "from_sets": list(f.from_sets),
                "probability": f.probability,
            }
            for f in verdict.foreign
        ],
        "unlisted": [{"piece": u.piece, "probability": u.probability} for u in verdict.unlisted],
        "not_in_family": [{"kind": t.kind, "name": t.name} for t in verdict.lacking],
        "disagrees": _differences(verdict.disagrees),
    }


def _expectation(answer: Answer) -> dict[str, Any]:
    found = answer.expectation
    if found is None:
        return {}
    return {
        "expect": {
            "family": found.family,
            "set": found.set,
            "answer": found.answer,
            "probability": found.probability,
            "disagrees": _differences(found.disagrees),
        }
    }


def _differences(wheels: Sequence[Difference]) -> list[dict[str, Any]]:
    return [{"wheel": d.wheel, "counted": d.counted, "listed": d.listed} for d in wheels]


def _checked(answer: Answer) -> dict[str, Any] | None:
    """The verification sheet, wheel by wheel; `agrees` is null where that cannot be said."""
    checked = answer.checked
    if checked is None:
        return None
    return {
        "family": checked.family,
        "set": checked.set,
        "wheels": [
            {"wheel": wheel, "counted": counted, "listed": listed, "agrees": agrees}
            for pair in checked.pairs
            for wheel, counted, listed, agrees in zip(
                pair.wheels, pair.counted, pair.listed, pair.agrees, strict=True
            )
        ],
    }


def _hints(answer: Answer) -> dict[str, Any]:
    turned = answer.turned
    return {
        "recount": [
            {"wheel": r.wheel, "counted": r.counted, "listed": r.listed} for r in answer.recounts
        ],
        "third_count": [{"wheel": c.wheel, "results": list(c.results)} for c in answer.thirds],
        "exchanged": [{"read": read, "meant": meant} for read, meant in answer.exchanged],
        "turned_round": None
        if turned is None
        else {"read": list(turned.read), "meant": list(turned.meant), "all": turned.all},
    }


def _answers(answer: Answer) -> list[dict[str, Any]]:
    """Matched groups and new sets, most probable first, then mixed, variant and uncatalogued."""
    found = answer.posterior
    named = [a for a in found.answers if a.family and a.probability >= LEAST_LISTED]
    rest = [Share(kind, found.of_kind(kind)) for kind in REST]
    return [
        {
            "kind": a.kind,
            **({"family": a.family} if a.family else {}),
            **({"sets": list(a.sets)} if a.kind == MATCHED else {}),
            "probability": a.probability,
        }
        for a in [*named, *rest]
    ]


def observed_json(lines: Sequence[LookLine]) -> list[dict[str, Any]]:
    """Return each thing looked at as typed, what is listed there, and whether that differs."""
    return [
        {
            "kind": "mark" if isinstance(line.look, ReadMark) else "feature",
            "of": line.look.piece if isinstance(line.look, ReadMark) else line.look.owner,
            "seen": line.look.text,
            "listed": list(line.listed),
            "differs": line.differs,
        }
        for line in lines
    ]
