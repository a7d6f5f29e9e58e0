"""The answers beside the one that was given, each with what of the counts it does not have.

Which they are is left to the evidence.
"""

from __future__ import annotations

from rich.text import Text

from cogtally.evidence.answer import Answer, Rival
from cogtally.evidence.posterior import MATCHED, MIXED, UNCATALOGUED, VARIANT
from cogtally.evidence.verdict import NARROWED, UNDECIDED
from cogtally.show.screen.console import STRONG, plain, wrapped, written_list
from cogtally.show.screen.probability import LEAST_SHOWN, per_cent

INDENT, HANGING = 2, 2
FEWEST_SHOWN = 2
_KINDS = {
    MIXED: "a mixture: pieces of more than one set",
    VARIANT: "a variant: pieces that no listed set has",
    UNCATALOGUED: "not in the catalog",
}


def rival_lines(answer: Answer, width: int, room_for: int) -> list[Text]:
    """Return the rivals as lines of at most `width` columns; one line says if there are none.

    `room_for`: so many lines there should be, head included; the two most probable are shown in
    any case.
    """
    shown = [r for r in answer.rivals if r.share.probability >= LEAST_SHOWN]
    if not shown:
        return [Text("No other answer comes to 0.1 %.")]
    all_shown = answer.verdict.kind in (NARROWED, UNDECIDED)
    lines = [Text("Answers for the whole box" if all_shown else "Other answers", style=STRONG)]
    column = max(len(per_cent(r.share.probability)) for r in shown)
    for number, rival in enumerate(shown):
        head = f"{per_cent(rival.share.probability):>{column}}  "
        room = width - INDENT - len(head)
        text = wrapped(rival_text(answer, rival, room), room, HANGING)
        if number >= FEWEST_SHOWN and len(lines) + len(text) > room_for:
            break
        lines.append(Text(" " * INDENT + head + text[0]))
        lines += [Text(" " * (INDENT + len(head)) + more) for more in text[1:]]
    return lines


def rival_text(answer: Answer, rival: Rival, room: int) -> str:
    """Return a rival by name, with what of the counts it does not have, for a line so wide."""
    share = rival.share
    if share.kind != MATCHED:
        return _KINDS[share.kind]
    family = answer.catalog.by_id[share.family]
    names = [f"{share.family}/{share.sets[0]}", *share.sets[1:]]
    title = plain(next(s.title for s in family.sets if s.id == share.sets[0]))
    titled = f", {title}" if len(names) == 1 and title != share.sets[0] else ""
    name = f"{written_list(names, 'or')}{titled}"
    differing = len(rival.differences)
    if not differing:
        return f"{name}: {_fit(answer, rival)}"
    # As many wheels as the line has room for; the table and the JSON have them all.
    texts = [f"{name}: has {_wheels(rival, named)}" for named in range(differing, 0, -1)]
    return next((text for text in texts if len(text) <= room), texts[-1])


def _wheels(rival: Rival, named: int) -> str:
    has = [
        f"no {d.wheel}" if d.listed is None else f"{d.wheel} {d.listed}"
        for d in rival.differences[:named]
    ]
    more = len(rival.differences) - named
    if more:
        has.append(f"{more} other {'wheel' if more == 1 else 'wheels'}")
    return written_list(has)


def _fit(answer: Answer, rival: Rival) -> str:
    """How a rival fits of which no count speaks."""
    near = rival.near
    error = None if near is None else near.worst_ratio_error
    if near is not None and near.tooth_differences is None:
        return "printed ratios only" + ("" if error is None else f", within {100 * error:.2g} %")
    if answer.seen.counts:
        return "has every count"
    return "nothing speaks against it" if error is None else f"ratios within {100 * error:.2g} %"
