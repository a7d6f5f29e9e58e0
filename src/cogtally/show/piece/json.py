"""A loose piece for machines: the JSON of `piece --json`.

Keys are added, never changed, within a format number. All numbers are left to the evidence.
"""

from __future__ import annotations

from typing import Any

from cogtally.evidence.loose_views import LooseAnswer
from cogtally.show.box import FORMAT, LEAST_LISTED


def piece_json(answer: LooseAnswer) -> dict[str, Any]:
    """Return an answer as plain lists, texts and numbers, in full double precision."""
    found = answer.posterior
    observed = {}
    if answer.looks:
        from cogtally.show.box import observed_json

        observed = {"observed": observed_json(answer.looks)}
    return {
        "format": FORMAT,
        "catalog": {
            "name": answer.catalog.name,
            "families": len(answer.catalog.families),
            "sets": answer.catalog.set_count,
            "demo": answer.catalog.demo,
        },
        "answers": [
            {
                "family": share.family,
                "piece": share.piece,
                "type": list(share.kind.teeth),
                "sets": list(share.sets),
                "probability": share.probability,
            }
            for share in found.answers
            if share.probability >= LEAST_LISTED
        ],
        "uncatalogued": found.uncatalogued,
        **observed,
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
        "next": sorted(
            ({"position": i, "bits": bits} for i, bits in enumerate(found.worth, 1)),
            key=lambda worth: -worth["bits"],
        ),
    }
