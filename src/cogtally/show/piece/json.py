"""A loose piece for machines: the JSON of `piece --json`.

Keys are added, never changed, within a format number. All numbers are left to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from cogtally.evidence.loose import LooseAnswer, Off
from cogtally.show.box import FORMAT, LEAST_LISTED


def piece_json(answer: LooseAnswer) -> dict[str, Any]:
    """Return an answer as plain lists, texts and numbers, in full double precision."""
    found = answer.posterior
    added: dict[str, Any] = {}
    if answer.looks:
        from cogtally.show.box import observed_json

        added["observed"] = observed_json(answer.looks)
    expected = answer.expectation
    if expected is not None:
        added["expect"] = {
            "family": expected.family,
            "set": expected.set,
            "answer": expected.answer,
            "probability": expected.probability,
            "off": off_json(answer.expected_off),
        }
    lead = answer.groups[0] if answer.groups else None
    return {
        "format": FORMAT,
        "catalog": {
            "name": answer.catalog.name,
            "families": len(answer.catalog.families),
            "sets": answer.catalog.set_count,
            "demo": answer.catalog.demo,
        },
        "verdict": {
            "kind": answer.verdict.kind,
            "probability": answer.verdict.probability,
            "off": off_json(lead.off if lead else ()),
        },
        "answers": [
            {
                "family": share.family,
                "piece": share.piece,
                "type": None if share.kind is None else list(share.kind.teeth),
                "sets": list(share.sets),
                "probability": share.probability,
            }
            for share in found.listed(LEAST_LISTED)
        ],
        "uncatalogued": found.uncatalogued,
        **added,
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
        "next": sorted(
            ({"position": i, "bits": bits} for i, bits in enumerate(found.worth, 1)),
            key=lambda worth: -worth["bits"],
        ),
    }


def off_json(off: Iterable[Off]) -> list[dict[str, int]]:
    """Return the places where counts are not those listed."""
    return [{"place": o.place, "counted": o.counted, "listed": o.listed} for o in off]
