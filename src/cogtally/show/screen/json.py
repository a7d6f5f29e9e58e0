"""How an answer goes out to machines.

What stands in it is left to each view.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import Any


def print_json(document: Mapping[str, Any]) -> None:
    """Print a document as JSON on standard output, every number in full double precision."""
    sys.stdout.write(json.dumps(document, indent=2, allow_nan=False) + "\n")
