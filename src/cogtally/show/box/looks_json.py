"""Marks and features that were looked at, for machines.

What is listed, and what differs, is left to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cogtally.evidence.look_views import LookLine
from cogtally.gears.words import ReadMark


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
