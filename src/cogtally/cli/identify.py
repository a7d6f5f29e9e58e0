"""`cogtally identify`: which set an assembled box is, and keeping what was counted of it.

What the words mean is left to the notation, the answer to the evidence, its look to `show`, what
of the counts is kept to the catalog.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import typer

from cogtally.cli import options
from cogtally.cli.known import asked_about, asked_book, asked_catalog, code_of, is_entangled
from cogtally.cli.options import argument, flag, option
from cogtally.cli.output import now_written
from cogtally.cli.report import asked_picture, asked_shelf, make_report, may_report
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen, parse_seen
from cogtally.show import screen

if TYPE_CHECKING:
    from cogtally.catalog.changes import Kept
    from cogtally.evidence.reading import Answer

#: What is said of a box whose --source nobody wrote.
ONE_BOX = "counted on one box"
#: Lines of a terminal that has room for the train below an answer.
ROOMY = 50


def identify(
    context: typer.Context,
    seen: list[str] | None = argument(
        "SEEN", "What was counted or turned: input=17/28 1=14/31 3.driver=24 1@4:1.1"
    ),
    mark: list[str] | None = options.MARK,
    feature: list[str] | None = options.FEATURE,
    family: str | None = options.FAMILY,
    expect: str | None = option(
        "FAMILY/SET", "Say whether it is this set. Exit code 0: yes, 1: no, 3: not settled yet."
    ),
    catalog: str | None = options.CATALOG,
    demo: bool = options.DEMO,
    why: bool = flag("--why", "Show the reasons, row by row, in bits."),
    shut: bool = flag("--shut", "The box stays shut: turn tests alone, nothing counted."),
    keep_as: str | None = option(
        "FAMILY/SET", "Write what was counted into your book, as a new set of this family."
    ),
    source: str | None = option("TEXT", "With --keep-as: where the counts are from."),
    report: str | None = option("FILE", "Write a page for the customer's file too: .html or .pdf."),
    shop: str | None = option("TEXT", "With --report: whose shop it is from."),
    customer: str | None = option("TEXT", "With --report: whose box it is."),
    vehicle: str | None = option("TEXT", "With --report: what it is out of."),
    job: str | None = option("TEXT", "With --report: the number of the job."),
    picture: str | None = options.PICTURE,
    gear: str | None = options.GEAR,
    outlines: bool = options.OUTLINES,
    force: bool = options.FORCE,
    from_file: str | None = options.FROM,
    out: str | None = options.OUT,
    resume: bool = options.RESUME,
    as_json: bool = options.JSON,
) -> None:
    """Say which gearbox set an assembled box is.

    A pair is written driver/driven (1=14/31), with an idler driver/idler/driven (R=12/20/28), a
    wheel not counted as _, an unsure count as 24u, one counted three times as 24x3, a turn test
    as gear@turns-in:turns-out (1@4:1.1). In a file the columns are item, family, mark, feature
    and seen, or a column for each pair (3) or wheel (3.driver).
    """
    if from_file is not None or out is not None or resume:
        from cogtally.cli.batch import answer_boxes, refuse_beside

        refuse_beside(context, ("family", "shop", "customer", "vehicle", "job"))
        raise typer.Exit(answer_boxes(context.params))
    if not (seen or mark or feature or shut):
        mend = "write what you counted, for example input=17/28 1=14/31"
        raise UserError("nothing to go by was written", mend=mend)
    box = parse_seen(seen or [])
    if mark or feature:
        from cogtally.gears.looks import with_looks

        box = with_looks(box, mark or (), feature or ())
    if shut and box.counts:
        mend = "write turn tests alone (1@4:1.1), or leave --shut out"
        counted = next(word.text for word in box.words if word.counts)
        raise UserError("--shut is for a box of which nothing was counted", counted, mend)
    if source is not None and keep_as is None:
        raise UserError("--source goes with --keep-as", mend="write --keep-as FAMILY/SET too")
    if keep_as is not None:
        _may_keep(box, catalog, demo)
    people = {"Shop": shop, "Customer": customer, "Vehicle": vehicle, "Job": job}
    if report is None and any(text is not None for text in people.values()):
        given = next(name for name, text in people.items() if text is not None)
        raise UserError(f"--{given.lower()} goes with --report", mend="write --report FILE too")
    page = None if report is None else may_report(report, demo, force=force)
    drawn = asked_picture(picture, gear, force=force, outlines=outlines)
    # What is kept changes the book, of which nothing more could be read then.
    known = asked_catalog(catalog, demo)

    from cogtally.catalog.find import as_called
    from cogtally.catalog.looked import refuse_overdrive_turns, resolved
    from cogtally.evidence.advice import advise, advise_briefly, advise_shut
    from cogtally.evidence.reading import identify as identify_box

    box = as_called(known, box)
    if box.looks:
        box = resolved(known, box)
    only, wanted = asked_about(known, family, expect)
    if box.turns:
        refuse_overdrive_turns(known, box, only)
    advising = advise_shut if shut else advise if as_json else advise_briefly
    answer = identify_box(
        known,
        box,
        family=only,
        expect=wanted,
        advising=advising,
        why=why or as_json or page is not None,
    )
    if drawn is not None:
        from cogtally.show.train import answer_subject

        drawn.draw(lambda gear: answer_subject(answer, gear=gear))
    shelf = asked_shelf(answer, catalog) if answer.remedies and not known.demo else None
    if page is not None:
        make_report(answer, page, shelf, people)
        if not (why or as_json):
            answer = replace(answer, account=None)
    keeping = None if keep_as is None else _keep_box(box, keep_as, source, catalog)
    from cogtally.show.box import answer_json, show_answer

    if as_json:
        screen.print_json({**answer_json(answer, shelf), **(keeping[1] if keeping else {})})
    else:
        console = screen.console_for()
        show_answer(answer, console, shelf)
        if screen.on_terminal(console) and console.height >= ROOMY:
            from cogtally.show.train import answer_lines

            for line in answer_lines(answer, console.width):
                console.print(line, markup=False, highlight=False)
        if keeping is not None:
            _say_kept(keeping[2])
    if keeping is not None:
        from cogtally.cli.catalog import say_warnings

        say_warnings(keeping[0])
        _warn_of_recount(answer)
    raise typer.Exit(code_of(answer.expectation.answer if answer.expectation else None))


def _warn_of_recount(answer: Answer) -> None:
    """Say that what was kept is likely a known set with a miscount."""
    from cogtally.evidence.reading import RECOUNT

    verdict = answer.verdict
    if verdict.kind == RECOUNT:
        wheels = screen.written_list(d.wheel for d in verdict.disagrees)
        known = f"{verdict.family}/{screen.written_list(verdict.sets, 'or')}"
        screen.note(
            f"This is most likely {known}, miscounted: count {wheels} again, then edit the set."
        )


def _may_keep(box: Seen, catalog: str | None, demo: bool) -> None:
    """Raise UserError where nothing of this box can be kept: no counts, or no book of one's own."""
    from cogtally.cli.catalog import refuse_demo

    refuse_demo(demo)
    if not box.counts:
        tested = "turn tests alone give no teeth" if box.turns else "nothing was counted"
        raise UserError(
            f"{tested}, and a set has teeth", "--keep-as", "count wheels too: input=17/28 1=14/31"
        )
    asked_book(catalog, there=True)


def _keep_box(
    box: Seen, name: str, source: str | None, catalog: str | None
) -> tuple[Kept, dict[str, Any], list[str]]:
    """Write what was counted of a box into the book as the set `FAMILY/SET`, which is new.

    Return what the book was given, the keys that it adds to the JSON of an answer, and what to say.
    """
    from cogtally.catalog.book import partly_read
    from cogtally.catalog.changes import box_pairs, keep_set, new_set_name, no_family
    from cogtally.catalog.model import RatioSet
    from cogtally.cli.catalog import whole_text

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
    document = {
        "family": family.id,
        "set": set_id,
        "book": str(book),
        "gaps": list(counted.gaps),
        "doubtful": list(counted.doubtful),
    }
    said = [f"Kept as {family.id}/{set_id} in {book}"]
    sure = [wheel for wheel in counted.gaps if wheel not in counted.doubtful]
    if sure:
        said.append(f"Not counted, kept as gaps: {screen.written_list(sure)}.")
    if counted.doubtful:
        wheels = screen.written_list(counted.doubtful)
        said.append(f"Counted in doubt, kept as gaps: {wheels}. Count again, then edit the set.")
    if box.turns:
        said.append("Turn tests were not kept: they give no teeth.")
    said.append("'cogtally undo' takes it back.")
    return kept, {"kept_as": document}, said


def _say_kept(said: Sequence[str]) -> None:
    """Print what was kept, and what was not; a path is not broken: it is there to be copied."""
    first, *others = map(screen.plain, said)
    console = screen.console_for()
    console.print()
    for line in (first, *(line for text in others for line in screen.wrapped(text, console.width))):
        console.print(line, soft_wrap=True)
