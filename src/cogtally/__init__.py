"""Cogtally names a gearbox set from counted teeth: exact ratios, exact probabilities.

A catalog is loaded once and asked as often as you like. Each question is one pure call: it reads no
file and no variable of the surroundings, and changes nothing. Catalogs, what was seen and answers
are frozen. A box on the bench, its pairs written driver/driven, idlers between:

>>> import cogtally
>>> catalog = cogtally.demo_catalog()  # invented; load_catalog("my-catalog/") reads yours
>>> box = cogtally.parse_box("input=17/28 1=14/31 2=19/26 3=24/21 R=12/20/28")
>>> answer = cogtally.identify(catalog, box)
>>> answer.verdict.kind, answer.verdict.family, answer.verdict.sets
('matched', 'alder-4', ('wide',))
>>> round(answer.verdict.probability, 3)
0.984
>>> {gear.gear: str(gear.ratio) for gear in answer.gears}
{'1': '62/17', '2': '728/323', '3': '49/34', '4': '1', 'R': '196/51'}

A gear of another set in it, counted twice, and what the set that was ordered would need:

>>> box = cogtally.parse_box("input=17/28 1=14/31 2=19/26 3=24/22x2")
>>> answer = cogtally.identify(catalog, box, expect="alder-4/wide", advice=True)
>>> answer.verdict.kind, answer.expectation.answer
('mixed', 'no')
>>> [(piece.piece, piece.teeth, piece.from_sets) for piece in answer.verdict.foreign]
[('3-gear', (22,), ('late', 'close'))]
>>> answer.advice.looks[0].owner, answer.advice.looks[0].feature
('3-gear', 'mark')

A gear in the hand, its wheels along the axis from either end:

>>> loose = cogtally.identify_piece(catalog, cogtally.parse_piece("28 24 19 14 12"))
>>> lead = loose.groups[0]
>>> loose.verdict.kind, lead.family.id, lead.piece.name, lead.sets
('type', 'alder-4', 'laygear', ('wide',))

What a person wrote and cannot be meant is one `UserError`, with a sentence, a place and a mend:

>>> try:
...     cogtally.identify_piece(catalog, loose.seen, family="aldr-4")
... except cogtally.UserError as error:
...     print(error.place, error.sentence, error.mend, sep="; ")
aldr-4; no family of the catalog is called that; did you mean alder-4 or Ald-4?

Stable are the names in `__all__`, their parameters, and the fields of what they return: within one
minor version (0.1.x) fields are added, none is renamed, removed or given another meaning.
Probabilities follow the model, `cogtally/evidence/README.md`, to 1e-9, and change only with it and
the minor version. All that stands in the rooms below may change at any time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cogtally.catalog.files import demo_catalog
    from cogtally.catalog.model import Catalog
    from cogtally.catalog.problem import CatalogError
    from cogtally.evidence.loose import LooseAnswer, LooseVerdict
    from cogtally.evidence.reading import Answer, Verdict
    from cogtally.gears.errors import UserError
    from cogtally.gears.looks import SeenPiece
    from cogtally.gears.notation import Seen
    from cogtally.library import identify, identify_piece, load_catalog, parse_box, parse_piece

__version__ = "0.1.0"
__all__ = [
    "Answer",
    "Catalog",
    "CatalogError",
    "LooseAnswer",
    "LooseVerdict",
    "Seen",
    "SeenPiece",
    "UserError",
    "Verdict",
    "demo_catalog",
    "identify",
    "identify_piece",
    "load_catalog",
    "parse_box",
    "parse_piece",
]


def __getattr__(name: str) -> object:
    """Load the library with the first name that is asked for: the command line needs none of it."""
    if name not in __all__:
        raise AttributeError(f"module 'cogtally' has no attribute {name!r}")
    from cogtally import library

    return getattr(library, name)


def __dir__() -> list[str]:
    """Name what the library offers too."""
    return sorted({*globals(), *__all__})
