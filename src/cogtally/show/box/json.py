"""An answer for machines: the JSON of `identify --json`.

Keys are added, never changed, within a format number. All numbers are left to the evidence.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from cogtally.evidence import reading
from cogtally.evidence.posterior import MATCHED, REST, Share
from cogtally.gears.notation import ReadMark
from cogtally.show.box.next import Shelf, remedies_json
from cogtally.show.screen import FORMAT, catalog_json, exact_json, keys_of

#: A matched group, a so-far group or a type of a piece is listed from here on.
LEAST_LISTED = 1e-6


def answer_json(answer: reading.Answer, shelf: Shelf | None = None) -> dict[str, Any]:
    """Return an answer as plain lists, texts and numbers, in full double precision.

    `shelf` is what is for sale, where a stock was looked through.
    """
    found = answer.posterior
    return {
        "format": FORMAT,
        "catalog": catalog_json(answer.catalog),
        "gears": [{"gear": g.gear, **exact_json(g.ratio)} for g in answer.gears],
        "meshes": [
            keys_of(m, "wheels", "teeth", "sum", "expected_sums", "agrees") for m in answer.meshes
        ],
        "verdict": _verdict(answer.verdict),
        "remedy": remedies_json(answer, shelf),
        "checked": _checked(answer),
        **({"expect": _expectation(answer.expectation)} if answer.expectation else {}),
        **_hints(answer),
        "answers": _answers(answer),
        "so_far": [
            keys_of(s, "family", "sets", "probability")
            for s in found.so_far
            if s.probability >= LEAST_LISTED
        ],
        "pieces": [
            keys_of(p, "family", "piece", "type=teeth", "sets", "probability")
            for p in found.pieces
            if p.probability >= LEAST_LISTED
        ],
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
        "nearest": [
            keys_of(n, "family", "set", "tooth_differences", "worst_ratio_error")
            for n in answer.nearest
        ],
        **({"observed": observed_json(answer.looks)} if answer.looks else {}),
        **_next(answer),
        "why": None if answer.account is None else _why(answer.account),
    }


def _next(answer: reading.Answer) -> dict[str, Any]:
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


def _why(account: reading.Account) -> dict[str, Any]:
    return {
        "for": reading.label(account.headline),
        "against": reading.label(account.rival),
        "so_far": account.so_far,
        "rows": [keys_of(row, "seen", "bits", "because") for row in account.rows],
        "total": account.total,
    }


def _verdict(verdict: reading.Verdict) -> dict[str, Any]:
    return {
        **keys_of(verdict, "kind", "leaning"),
        "family": verdict.family or None,
        **keys_of(verdict, "sets", "probability", "whole_box", "not_counted"),
        "foreign": [
            keys_of(f, "piece", "type=teeth", "from_sets", "probability") for f in verdict.foreign
        ],
        "unlisted": [keys_of(u, "piece", "probability") for u in verdict.unlisted],
        "not_in_family": [keys_of(t, "kind", "name") for t in verdict.lacking],
        "disagrees": _differences(verdict.disagrees),
    }


def _expectation(found: reading.Expectation) -> dict[str, Any]:
    return {
        **keys_of(found, "family", "set", "answer", "probability"),
        "disagrees": _differences(found.disagrees),
    }


def _differences(wheels: Iterable[reading.Difference | reading.Recount]) -> list[dict[str, Any]]:
    return [keys_of(wheel, "wheel", "counted", "listed") for wheel in wheels]


def _checked(answer: reading.Answer) -> dict[str, Any] | None:
    """The verification sheet, wheel by wheel; `agrees` is null where that cannot be said."""
    checked = answer.checked
    if checked is None:
        return None
    return {
        **keys_of(checked, "family", "set"),
        "wheels": [
            {"wheel": wheel, "counted": counted, "listed": listed, "agrees": agrees}
            for pair in checked.pairs
            for wheel, counted, listed, agrees in zip(
                pair.wheels, pair.counted, pair.listed, pair.agrees, strict=True
            )
        ],
    }


def _hints(answer: reading.Answer) -> dict[str, Any]:
    turned = answer.turned
    return {
        "recount": _differences(answer.recounts),
        "third_count": [keys_of(third, "wheel", "results") for third in answer.thirds],
        "exchanged": [{"read": read, "meant": meant} for read, meant in answer.exchanged],
        "turned_round": turned and keys_of(turned, "read", "meant", "all"),
    }


def _answers(answer: reading.Answer) -> list[dict[str, Any]]:
    """Matched groups and new sets, most probable first, then mixed, variant and uncatalogued."""
    found = answer.posterior
    named = [a for a in found.answers if a.family and a.probability >= LEAST_LISTED]
    rest = [Share(kind, found.of_kind(kind)) for kind in REST]
    return [
        {
            "kind": a.kind,
            **({"family": a.family} if a.family else {}),
            **({"sets": a.sets} if a.kind == MATCHED else {}),
            "probability": a.probability,
        }
        for a in [*named, *rest]
    ]


def observed_json(lines: Sequence[reading.LookLine]) -> list[dict[str, Any]]:
    """Return each thing looked at as typed, what is listed there, and whether that differs."""
    return [
        {
            "kind": "mark" if isinstance(line.look, ReadMark) else "feature",
            "of": line.look.piece if isinstance(line.look, ReadMark) else line.look.owner,
            "seen": line.look.text,
            **keys_of(line, "listed", "differs"),
        }
        for line in lines
    ]
