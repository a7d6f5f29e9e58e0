"""Stacks saved beside a large book: asked of them, a box is what it is asked of the book."""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from catalog.many import many_families
from cogtally.catalog.book import make_catalog_book, read_book, writing
from cogtally.evidence.engine import posterior
from cogtally.evidence.posterior import Posterior
from cogtally.gears.notation import parse_seen

SEEN = parse_seen(["input=17/28", "1=14/31", "2@4:1.1"])
Spoil = Callable[[Path, pytest.MonkeyPatch], None]


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> tuple[bytes, bytes, Posterior]:
    """A book of a thousand sets, the stacks that a first question saved, and what it came to."""
    book = tmp_path_factory.mktemp("made") / "own.db"
    make_catalog_book(book, many_families(51, 20))
    found = posterior(read_book(book), SEEN)
    return book.read_bytes(), _saved(book).read_bytes(), found


@pytest.fixture
def book(tmp_path, made) -> Path:
    """That book again, with its stacks beside it."""
    path = tmp_path / "own.db"
    path.write_bytes(made[0])
    _saved(path).write_bytes(made[1])
    return path


def test_saved_stacks_are_used_as_they_are(book, made):
    """A question finds the stacks that an earlier one saved, and comes to the same to the bit."""
    before = _saved(book).stat()
    assert _told(posterior(read_book(book), SEEN)) == _told(made[2])
    after = _saved(book).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def _flipped(share: float) -> Spoil:
    def spoil(file: Path, _: pytest.MonkeyPatch) -> None:
        data = bytearray(file.read_bytes())
        data[int(share * (len(data) - 1))] ^= 1
        file.write_bytes(data)

    return spoil


def _cut(file: Path, _: pytest.MonkeyPatch) -> None:
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])


def _emptied(file: Path, _: pytest.MonkeyPatch) -> None:
    file.write_bytes(b"")


def _by_another(module: object, name: str) -> Spoil:
    def spoil(file: Path, patch: pytest.MonkeyPatch) -> None:
        file.unlink()
        with patch.context() as other:
            other.setattr(module, name, "0.0.1")
            posterior(read_book(file.with_name("own.db")), SEEN)

    return spoil


@pytest.mark.parametrize(
    "spoil",
    [
        *(pytest.param(_flipped(share), id=f"byte at {share}") for share in (0, 0.01, 0.5, 1)),
        pytest.param(_cut, id="half written"),
        pytest.param(_emptied, id="empty"),
        pytest.param(_by_another(np, "__version__"), id="another numpy"),
        pytest.param(
            _by_another(import_module("cogtally.evidence.engine.ready"), "VERSION"),
            id="another version",
        ),
    ],
)
def test_unsound_stacks_are_made_anew(book, made, spoil, monkeypatch):
    """Stacks that are not whole, or were made by another version, are never asked."""
    spoil(_saved(book), monkeypatch)
    assert not _saved(book).exists() or _saved(book).read_bytes() != made[1]
    assert _told(posterior(read_book(book), SEEN)) == _told(made[2])
    assert _saved(book).read_bytes() == made[1]


def test_stacks_of_another_state_are_made_anew(book):
    """A set taken out of the book is no answer, and stacks are saved that lack it."""
    first = next(a for a in posterior(read_book(book), SEEN).answers if a.sets)
    with writing(book, "test") as change:
        assert change.remove_set(first.family, first.sets[0])
    before = _saved(book).read_bytes()
    found = posterior(read_book(book), SEEN)
    assert first.sets[0] not in [
        s for a in found.answers if a.family == first.family for s in a.sets
    ]
    assert _saved(book).read_bytes() != before


def _saved(book: Path) -> Path:
    return book.with_name("own.db.stacks.npy")


def _told(found: Posterior) -> tuple[object, ...]:
    return found.log_evidence, found.families, [(a.sets, a.probability) for a in found.answers]
