"""A small family and short forms that the tests of the reference share."""

from __future__ import annotations

from typing import Any

TWO_SHAFT: dict[str, Any] = {
    "family": {"id": "reed", "name": "Reed", "layout": "two-shaft"},
    "set": [
        {"id": "a", "pairs": {"1": "15/45"}, "commonness": 2},
        {"id": "b", "pairs": {"1": "16/44"}},
        {"id": "c", "pairs": {"1": "15/46"}, "commonness": 0.5},
    ],
}


def by_name(answer: dict[str, Any]) -> dict[str, float]:
    return {
        "+".join(one.get("sets", [one["kind"]])): one["probability"] for one in answer["answers"]
    }


def matched(answer: dict[str, Any]) -> list[list[str]]:
    return [one["sets"] for one in answer["answers"] if one["kind"] == "matched"]


def family(head: dict[str, Any], *sets: dict[str, Any]) -> dict[str, Any]:
    return {"family": {"id": "f", "name": "F", **head}, "set": list(sets)}
