"""The page's own law, asked outside of a browser, and pages made for a test."""

import json
import shutil
import subprocess
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

import cogtally.field
from cogtally.catalog.model import Catalog
from cogtally.field import Said, Wish, tables_of
from field.pieces import Asked

HERE = Path(__file__).parent
MODULES = Path(cogtally.field.__file__).parent / "page"
MADE = datetime(2031, 5, 6, 7, 8, 9, tzinfo=UTC)
SAID = Said("Turn by hand.", ("A right count proves no sound gear.",), "From an invented catalog.")

needs_node = pytest.mark.skipif(shutil.which("node") is None, reason="node is not there")


def tables(
    catalog: Catalog, *, made: datetime = MADE, wishes: Iterable[Wish] | None = None
) -> dict[str, Any]:
    """The tables of a catalog, made at a known time."""
    return tables_of(catalog, "0123456789abcdef" * 4, made, said=SAID, wishes=wishes)


def answers(
    known: dict[str, Any], pieces: Sequence[Asked], modules: Path = MODULES
) -> list[dict[str, Any]]:
    """What the page's law says of every piece."""
    done = subprocess.run(
        ["node", str(HERE / "answers.mjs"), str(modules)],
        input=json.dumps({"tables": known, "pieces": list(pieces)}),
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def off(ours: dict[str, Any], theirs: dict[str, Any]) -> float:
    """How far two answers are apart in any probability; what is not listed has less than 1e-6."""

    def of(found: dict[str, Any]) -> dict[str, float]:
        listed: dict[str, float] = {}
        for one in found["answers"]:
            key = json.dumps([one["family"], one["piece"], one["type"], list(one["sets"])])
            listed[key] = listed.get(key, 0.0) + one["probability"]
        return listed

    left, right = of(ours), of(theirs)
    apart = [
        abs(left.get(key, 0.0) - right.get(key, 0.0))
        for key in {*left, *right}
        # At the very bound of what is listed either may leave it out.
        if max(left.get(key, 0.0), right.get(key, 0.0)) > 1.000001e-6
    ]
    return max(
        *apart,
        abs(ours["uncatalogued"] - theirs["uncatalogued"]),
        abs(ours["hands"]["steady"] - theirs["hands"]["steady"]),
        0.0,
    )
