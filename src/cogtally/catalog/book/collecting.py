"""Work that makes millions of values which all stay, done without looking for waste among them.

What the work is, is left to whoever does it.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collecting() -> Iterator[None]:
    """Keep the collector of waste still: going through a large catalog takes it as long again."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()
