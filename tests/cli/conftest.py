"""A book of one's own for every test of the command line that asks for one."""

from __future__ import annotations

from pathlib import Path

import pytest

from cli.book_of import NOW, small_book
from cogtally.store import writing as writing_room


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of the small catalog, asked by every command, at one moment."""
    path = small_book(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    monkeypatch.setattr(writing_room, "now", lambda: NOW)
    return path
