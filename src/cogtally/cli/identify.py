"""`cogtally identify`: which set an assembled box is.

What the words mean is left to the notation, the answer to the evidence, its look to `show`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import typer

from cogtally.cli import options
from cogtally.cli.known import asked_about, asked_catalog, code_of
from cogtally.cli.options import argument, flag, option
from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_seen

if TYPE_CHECKING:
    from cogtally.evidence.reading import Answer

#: Lines of a terminal that has room for the train below an answer.
ROOMY = 50


def identify(
    seen: list[str] | None = argument(
        "SEEN", "What was counted or turned: input=17/28 1=14/31 3.driver=24 1@4:1.1"
    ),
    mark: list[str] | None = options.MARK,
    feature: list[str] | None = options.FEATURE,
    family: str | None = option("FAMILY", "Ask about this family only."),
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

        refuse_beside(
            from_file,
            out,
            resume,
            seen=seen,
            mark=mark,
            feature=feature,
            expect=expect,
            why=why,
            shut=shut,
            keep_as=keep_as,
            report=report,
            source=source,
            picture=picture,
            gear=gear,
            outlines=outlines,
            force=force,
        )
        raise typer.Exit(answer_boxes(from_file or "", out, resume, as_json, catalog, demo, family))
    if not (seen or mark or feature or shut):
        raise UserError(
            "nothing to go by was written",
            mend="write what you counted, for example input=17/28 1=14/31",
        )
    box = parse_seen(seen or [])
    if mark or feature:
        from cogtally.gears.looks import with_looks

        box = with_looks(box, mark or (), feature or ())
    if shut and box.counts:
        raise UserError(
            "--shut is for a box of which nothing was counted",
            next(word.text for word in box.words if word.counts),
            "write turn tests alone (1@4:1.1), or leave --shut out",
        )
    if source is not None and keep_as is None:
        raise UserError("--source goes with --keep-as", mend="write --keep-as FAMILY/SET too")
    if keep_as is not None:
        from cogtally.cli.keeping import may_keep

        may_keep(box, catalog, demo)
    people = {"Shop": shop, "Customer": customer, "Vehicle": vehicle, "Job": job}
    if report is None and any(text is not None for text in people.values()):
        given = next(name for name, text in people.items() if text is not None)
        raise UserError(f"--{given.lower()} goes with --report", mend="write --report FILE too")
    page = None
    if report is not None:
        from cogtally.cli.report import may_report

        page = may_report(report, demo, force=force)
    drawn = None
    if picture is not None or gear is not None or outlines:
        from cogtally.cli.report import asked_picture

        drawn = asked_picture(picture, gear, force=force, outlines=outlines)
    # What is kept changes the book, of which nothing more could be read then.
    known = asked_catalog(catalog, demo)

    from cogtally.catalog.find import as_called
    from cogtally.evidence.advice import advise, advise_briefly, advise_shut
    from cogtally.evidence.reading import identify as identify_box

    box = as_called(known, box)
    if box.looks:
        from cogtally.evidence.seen import resolved

        box = resolved(known, box)
    only, wanted = asked_about(known, family, expect)
    if box.turns:
        from cogtally.evidence.seen import refuse_overdrive_turns

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
    shelf = None
    if answer.remedies and not known.demo:
        from cogtally.cli.report import asked_shelf

        shelf = asked_shelf(answer, catalog)
    if page is not None:
        from cogtally.cli.report import make_report

        make_report(answer, page, shelf, people)
        if not (why or as_json):
            answer = replace(answer, account=None)
    keeping = None
    if keep_as is not None:
        from cogtally.cli.keeping import keep_box

        keeping = keep_box(box, keep_as, source, catalog)
    if as_json:
        from cogtally.show.box import answer_json
        from cogtally.show.screen import print_json

        print_json({**answer_json(answer, shelf), **(keeping.json if keeping else {})})
    else:
        from cogtally.show.box import show_answer
        from cogtally.show.screen import console_for, on_terminal

        console = console_for()
        show_answer(answer, console, shelf)
        if on_terminal(console) and console.height >= ROOMY:
            from cogtally.show.train import answer_lines

            for line in answer_lines(answer, console.width):
                console.print(line, markup=False, highlight=False)
        if keeping is not None:
            keeping.say()
    if keeping is not None:
        keeping.warn()
        _warn_of_recount(answer)
    raise typer.Exit(code_of(answer.expectation.answer if answer.expectation else None))


def _warn_of_recount(answer: Answer) -> None:
    """Say that what was kept is likely a known set with a miscount."""
    from cogtally.evidence.reading import RECOUNT
    from cogtally.show.screen import note, written_list

    verdict = answer.verdict
    if verdict.kind == RECOUNT:
        wheels = written_list(d.wheel for d in verdict.disagrees)
        known = f"{verdict.family}/{written_list(verdict.sets, 'or')}"
        note(f"This is most likely {known}, miscounted: count {wheels} again, then edit the set.")
