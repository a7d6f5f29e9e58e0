"""`identify --keep-as FAMILY/SET`: what was counted of a box becomes a set of the user's book.

What of the counts is kept is left to the catalog, which set the box is to the evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.cli.catalog import refuse_demo, say_warnings, whole_text
from cogtally.cli.output import now_written
from cogtally.cli.places import asked_book
from cogtally.gears.errors import UserError

if TYPE_CHECKING:
    from cogtally.catalog.changes import CountedPairs, Kept
    from cogtally.gears.notation import Seen

#: What is said of a box whose --source nobody wrote.
ONE_BOX = "counted on one box"


@dataclass(frozen=True, slots=True)
class Keeping:
    """What was kept of a box: the set, its family, and what the book was given."""

    family: str
    set: str
    counted: CountedPairs
    kept: Kept
    book: Path
    turned: bool

    @property
    def json(self) -> dict[str, Any]:
        """The keys that a kept box adds to the JSON of an answer."""
        return {
            "kept_as": {
                "family": self.family,
                "set": self.set,
                "book": str(self.book),
                "gaps": list(self.counted.gaps),
                "doubtful": list(self.counted.doubtful),
            }
        }

    def say(self) -> None:
        """Print what was kept, and what was not."""
        from cogtally.show.screen import console_for, plain, wrapped, written_list

        console = console_for()
        said = [f"Kept as {self.family}/{self.set} in {self.book}"]
        sure = [wheel for wheel in self.counted.gaps if wheel not in self.counted.doubtful]
        if sure:
            said.append(f"Not counted, kept as gaps: {written_list(sure)}.")
        if self.counted.doubtful:
            wheels = written_list(self.counted.doubtful)
            said.append(
                f"Counted in doubt, kept as gaps: {wheels}. Count again, then edit the set."
            )
        if self.turned:
            said.append("Turn tests were not kept: they give no teeth.")
        said.append("'cogtally undo' takes it back.")
        console.print()
        for number, text in enumerate(said):
            # A path is not broken: it is there to be copied.
            lines = [plain(text)] if number == 0 else wrapped(plain(text), console.width)
            for line in lines:
                console.print(line, soft_wrap=True)

    def warn(self) -> None:
        """Print what is odd about the new set, on standard error."""
        say_warnings(self.kept)


def may_keep(box: Seen, catalog: str | None, demo: bool) -> None:
    """Raise UserError where nothing of this box can be kept: no counts, or no book of one's own."""
    refuse_demo(demo)
    if not box.counts:
        tested = "turn tests alone give no teeth" if box.turns else "nothing was counted"
        raise UserError(
            f"{tested}, and a set has teeth",
            "--keep-as",
            "count wheels too: input=17/28 1=14/31",
        )
    asked_book(catalog, there=True)


def keep_box(box: Seen, name: str, source: str | None, catalog: str | None) -> Keeping:
    """Write what was counted of a box into the book as the set `FAMILY/SET`, which is new."""
    from cogtally.catalog.book import partly_read
    from cogtally.catalog.changes import box_pairs, keep_set, new_set_name, no_family
    from cogtally.catalog.model import RatioSet
    from cogtally.evidence.structure import is_entangled

    book = asked_book(catalog, there=True)
    known = partly_read(book)
    family, of, set_id = new_set_name(known, name)
    if family is None:
        raise no_family(known, of)
    counted = box_pairs(box, family)
    new = RatioSet(id=set_id, pairs=counted.pairs, source=whole_text(source, "--source") or ONE_BOX)
    what = f"identify --keep-as {family.id}/{set_id}"
    kept = keep_set(book, family.id, new, what, entangled=is_entangled)
    now_written(f"{family.id}/{set_id} is in the book")
    return Keeping(family.id, set_id, counted, kept, book, bool(box.turns))
