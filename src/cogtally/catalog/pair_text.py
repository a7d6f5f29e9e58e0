"""How the teeth of a catalogued pair are written.

How such a text is read is left to `values`.
"""

from __future__ import annotations

from cogtally.catalog.model import Teeth


def written_pair(teeth: Teeth) -> str:
    """Return the teeth of a pair as they are written: `12/_/28`."""
    return "/".join("_" if count is None else str(count) for count in teeth)


def written_number(value: float) -> str:
    """Return a number as it is written: without a point where it is whole."""
    whole = value == int(value) and abs(value) < 10**15
    return str(int(value)) if whole else repr(value)
