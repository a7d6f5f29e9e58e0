"""What tests of the command line ask for: a book of one's own, filled or not, kept sessions."""

from pathlib import Path

import pytest

from cli.book_of import NOW, fill_stock, small_book


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A book of the small catalog, asked by every command, at one moment."""
    path = small_book(tmp_path)
    monkeypatch.setenv("COGTALLY_CATALOG", str(path))
    for place in ("cogtally.store.now", "cogtally.store.file.now"):
        monkeypatch.setattr(place, lambda: NOW)
    return path


@pytest.fixture
def filled(book, cogtally, request) -> Path:
    """The same with the items that the module calls FILL."""
    fill_stock(cogtally, request.module.FILL)
    return book


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """Where the sessions of a test are kept."""
    sessions = tmp_path / "sessions"
    monkeypatch.setenv("COGTALLY_SESSIONS", str(sessions))
    return sessions
