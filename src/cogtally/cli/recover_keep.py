"""`cogtally recover --pick N --keep-as FAMILY/SET`: a recovered solution into the user's book.

What the set holds is left to `catalog.from_recovered`, the rules and the writing to `catalog.keep`.
"""

from __future__ import annotations

from cogtally.catalog.book import partly_read
from cogtally.catalog.changes.from_recovered import check_family, picked, set_of
from cogtally.catalog.changes.keep import keep_set, new_set_name, no_family
from cogtally.cli.common.known import asked_book
from cogtally.cli.common.output import now_written
from cogtally.evidence.structure import is_entangled
from cogtally.gears.recover import Problem, Recovery


class Keeping:
    """Where a solution is to be kept; the name is looked at before anything is searched for.

    Raises UserError for a family that is not in the book or of another layout, and for a set that
    is there already.
    """

    def __init__(self, problem: Problem, place: int, name: str, catalog: str | None) -> None:
        self.place = place
        self.book = asked_book(catalog, there=True)
        known = partly_read(self.book)
        family, text, self.set_id = new_set_name(known, name)
        if family is None:
            raise no_family(known, text)
        check_family(problem, family)
        self.family = family

    def keep(self, found: Recovery, as_json: bool) -> None:
        """Write the solution into the book, or nothing, and show what was written."""
        chosen = set_of(found, picked(found, self.place), self.family, self.set_id)
        kept = keep_set(
            self.book,
            self.family.id,
            chosen,
            f"recover {self.family.id}/{self.set_id}",
            entangled=is_entangled,
        )
        now_written(f"{self.family.id}/{self.set_id} is in the book")
        from cogtally.show.catalog.kept import kept_json, show_kept
        from cogtally.show.screen import console_for, note

        if as_json:
            from cogtally.show.screen import print_json

            print_json(kept_json(kept, book=str(self.book)))
        else:
            show_kept(kept, console_for(), book=str(self.book))
        for problem in kept.warnings:
            note(f"Note: {problem.sentence}")
