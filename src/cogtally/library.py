"""The functions behind `import cogtally`: names as people write them, then one pure question.

What stands at the face, with an example, is left to `cogtally`; every answer to `evidence`.
"""

from __future__ import annotations

from collections.abc import Iterable
from os import PathLike
from pathlib import Path

from cogtally.catalog.files import demo_catalog as demo_catalog, load_catalog as load_checked
from cogtally.catalog.find import as_called, find_family, find_set
from cogtally.catalog.looked import find_role, refuse_overdrive_turns, resolved, resolved_piece
from cogtally.catalog.model import Catalog
from cogtally.catalog.problem import CatalogError as CatalogError
from cogtally.evidence import loose, reading
from cogtally.evidence.advice import advise
from cogtally.evidence.loose import LooseAnswer, LooseVerdict as LooseVerdict
from cogtally.evidence.reading import Answer, Verdict as Verdict
from cogtally.evidence.structure import is_entangled
from cogtally.gears.errors import UserError
from cogtally.gears.looks import SeenPiece, parse_piece as parse_places, with_looks
from cogtally.gears.notation import Seen, parse_seen


def load_catalog(path: str | PathLike[str]) -> Catalog:
    """Return the catalog of a .toml or .csv file, a folder of them, or a book.

    Raises CatalogError with all its problems if it has an error, UserError for a book that cannot
    be read.
    """
    return load_checked(Path(path), entangled=is_entangled)


def parse_box(text: str, marks: Iterable[str] = (), features: Iterable[str] = ()) -> Seen:
    """Read what was seen on a box, as `cogtally identify` takes it; 'cogtally guide writing'.

    `text`: pairs, wheels and turn tests, apart by blanks: `input=17/28 3.driver=24 1@4:1.1`.
    `marks` are of a piece (`laygear: LG 3?02`), `features` of a piece or a wheel. Raises UserError.
    """
    return with_looks(parse_seen([text]), marks, features)


def parse_piece(text: str, marks: Iterable[str] = (), features: Iterable[str] = ()) -> SeenPiece:
    """Read what was seen on a loose piece, as `cogtally piece` takes it; 'cogtally guide piece'.

    `text`: teeth along the axis from either end, apart by blanks: `28 24 _ 14u ..`. Raises
    UserError.
    """
    return with_looks(parse_places(text.split()), marks, features)


def identify(
    catalog: Catalog,
    seen: Seen,
    *,
    family: str | None = None,
    expect: str | None = None,
    advice: bool = False,
    why: bool = False,
) -> Answer:
    """Say which set an assembled box is.

    `family`: ask about that one alone, by id, name or alias. `expect`: `FAMILY/SET`, to be told in
    `expectation` whether it is that. `advice` and `why` fill `Answer.advice`, what to count next,
    and `Answer.account`, the reasons in bits. Raises UserError, with the nearest right names, for a
    name that the catalog does not have, and for a turn test of an overdrive.
    """
    only = None if family is None else find_family(catalog, family).id
    box = resolved(catalog, as_called(catalog, seen), before="")
    refuse_overdrive_turns(catalog, box, only)
    return reading.identify(
        catalog,
        box,
        family=only,
        expect=_expected(catalog, expect, only),
        advising=advise if advice else None,
        why=why,
    )


def identify_piece(
    catalog: Catalog,
    seen: SeenPiece,
    *,
    role: str | None = None,
    family: str | None = None,
    expect: str | None = None,
) -> LooseAnswer:
    """Say what a loose piece is.

    `role`: what piece it is known to be, in the catalog's or another word of the trade (`laygear`,
    `3-gear`, `third`). `family` and `expect` as for a box. Raises UserError as there.
    """
    only = None if family is None else find_family(catalog, family).id
    return loose.identify_piece(
        catalog,
        resolved_piece(catalog, seen),
        None if role is None else find_role(catalog, role),
        family=only,
        expect=_expected(catalog, expect, only),
    )


def _expected(catalog: Catalog, expect: str | None, only: str | None) -> tuple[str, str] | None:
    if expect is None:
        return None
    family, known = find_set(catalog, expect)
    if only not in (None, family.id):
        raise UserError(
            f"only {only} is asked about", expect, f"ask about {family.id}, or about all"
        )
    return family.id, known.id
