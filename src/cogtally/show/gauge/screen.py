"""How the explanations of a wheel's measurements look on a screen, and what to measure next.

Which explanations there are is left to `gears.callipers`, the JSON to `json`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from cogtally.gears.callipers import (
    BEYOND,
    SOUND,
    TRUE,
    UNITS,
    UNSETTLED_HELIX_DEG,
    Explanation,
    Gauging,
    Measured,
    Parting,
)
from cogtally.show.gauge.table import outweighs, shown_rows, table_of, worth_measuring
from cogtally.show.gauge.words import (
    OFF,
    OPEN,
    UNSETTLED_SHIFT,
    helix_text,
    share_text,
    shift_text,
    signed_text,
    unit_words,
)
from cogtally.show.screen.caution import LINE
from cogtally.show.screen.console import DIM, STRONG, wrapped, written_list

if TYPE_CHECKING:
    from rich.console import Console

#: Pitches named one by one; a standard with so much of the weight is named beside the headline.
MOST_PITCHES, HEAVY = 4, 0.9
#: What the table says in a column of its own.
_SAID_IN_TABLE = ("these measurements do not settle", "its spans need a wheel wider", "the mate of")
_HOW_TAKEN = {
    "points": "tip to tip with narrow jaws",
    "flat": "a wide jaw on two tips",
    TRUE: "so that it reads true",
}


def show_gauging(answer: Gauging, console: Console, *, everything: bool = False) -> None:
    """Print the headline, the table of explanations, notes, what to do next, and the caution."""
    width = console.width
    rows = shown_rows(answer, everything)
    found = worth_measuring(answer, rows)
    advice = found[0] if found else None
    parts = [
        [
            *(Text(line, style=STRONG) for line in wrapped(answer.sentence, width)),
            *_plain(_detail(answer, rows), width),
        ],
        *table_of(answer, rows, advice, width),
        [line for note in _notes(answer, rows, everything) for line in _hung(note, width)],
        [line for text in _next(answer, rows, found) for line in _plain(text, width)],
        [Text(line, style=DIM) for line in wrapped(LINE, width)],
    ]
    lines = [line for part in parts if part for line in (*part, Text())]
    console.print(Text("\n").join(lines[:-1]), overflow="fold")


def notes(seen: Measured) -> list[str]:
    """Return what was written down and is not used, one sentence each."""
    if seen.mate is not None and seen.centres is None:
        return ["the mate's teeth say nothing without --centres"]
    return []


def _detail(answer: Gauging, rows: Sequence[Explanation]) -> str:
    """Return what the headline leaves open: helix and shift, or what all that fit share."""
    if answer.named is not None:
        best = next(e for e in rows if e.standard == answer.named)
        fit = best.fit
        said = [f"{fit.teeth} teeth"] if answer.seen.teeth is None else []
        if fit.helix == 0:
            said.append("straight teeth")
        elif fit.helix_error > UNSETTLED_HELIX_DEG:
            said.append("its helix is not settled")
        else:
            said.append(f"helix {fit.helix:.1f} degrees, give or take {fit.helix_error:.1f}")
        if fit.shift_error > UNSETTLED_SHIFT:
            said.append("its profile shift is not settled")
        else:
            said.append(f"profile shift {signed_text(fit.shift)} modules")
        return _sentence(", ".join(said))
    fitting = answer.fitting
    if not fitting:
        return ""
    pitches = list(dict.fromkeys(e.standard.pitch.name for e in fitting))
    number = len({e.standard for e in fitting})
    if len(pitches) == 1:
        text = f"All that fit are {pitches[0]}: the pitch is not in doubt." if number > 1 else ""
    elif len(pitches) <= MOST_PITCHES:
        text = f"They are of {written_list(pitches)}."
    else:
        text = f"They are of {len(pitches)} pitches, from {_extremes(fitting)}."
    leader, share = answer.standards[0]
    if share >= HEAVY and number > 1:
        text += f" {_sentence(f'{leader.name} has {share_text(share)} of the weight')}"
    return text


def _extremes(fitting: Iterable[Explanation]) -> str:
    by_size = sorted((e.standard.module_mm, e.standard.pitch.name) for e in fitting)
    return f"{by_size[0][1]} to {by_size[-1][1]}"


def _notes(answer: Gauging, rows: Sequence[Explanation], everything: bool) -> Iterator[str]:
    """Yield what the marks mean, what must be said beside rows, and what is not shown."""
    seen = answer.seen
    if rows:
        said = (
            f"Lengths in {unit_words(seen.unit)}, each taken to lie within "
            f"{seen.tolerance / UNITS[seen.unit]:.2g}; shift in modules. Share: of the weight of "
            "all that was looked for."
        )
        if seen.outside is not None and seen.jaws in _HOW_TAKEN:
            said += f" The diameter was taken {_HOW_TAKEN[seen.jaws]}."
        yield said
        if seen.centres is not None and seen.mate is not None:
            yield f"Mate's: the shift that its mate of {seen.mate} teeth would have."
        if any(e.state == BEYOND for e in rows):
            yield f"{OFF} further off than that."
        if any(OPEN in (helix_text(e), shift_text(e)) for e in rows):
            yield f"{OPEN}: these measurements do not settle it."
    told: dict[str, list[str]] = {}
    for number, explanation in enumerate(rows, 1):
        for note in explanation.notes:
            if not note.startswith(_SAID_IN_TABLE):
                told.setdefault(note, []).append(str(number))
    for note, numbers in told.items():
        who = "" if len(numbers) == len(rows) > 1 else f"No. {written_list(numbers)}: "
        yield f"{who}{note}." if who else _sentence(note)
    if rows and all(e.state != SOUND for e in rows if e.fits) and answer.fitting:
        yield "What fits, fits only with wear, thinned teeth or lowered tips: possible, not proved."
    if answer.slips:
        yield f"Or a slip: {'; or '.join(answer.slips)}."
    shown = {e.standard for e in rows}
    left = {e.standard for e in answer.fitting if e.standard not in shown}
    if not left or everything:
        return
    share = share_text(sum(s for standard, s in answer.standards if standard in left))
    many = f"{len(left)} more standards" if len(left) > 1 else "One more standard"
    fit = "fit" if len(left) > 1 else "fits"
    if answer.named is not None:
        # Whatever fits beside the one that is named is not sound.
        yield f"{many} {fit} only with thin teeth or lowered tips, {share}; see --all."
    else:
        yield f"{many} {fit}, {share}{' together' * (len(left) > 1)}; see --all."


def _next(answer: Gauging, rows: Sequence[Explanation], found: Sequence[Parting]) -> Iterator[str]:
    """Yield the measurement worth most, and the next best of another kind."""
    if answer.named is not None:
        return
    if not found:
        if not answer.explanations:
            yield "Next: count the teeth again, and measure everything again."
        elif len(rows) == 1:
            yield "Next: nothing left to measure would settle it; look at flanks and tips for wear."
        elif answer.fitting:
            yield "Next: nothing left to measure with callipers would part these."
        return
    seen, advice = answer.seen, found[0]
    if advice.parts >= 1 or outweighs(rows):
        yield f"Next: measure {_asked(advice, seen)}; the last column says what each expects."
    else:
        yield (
            f"Next: measure {_asked(advice, seen)}. It would settle {share_text(advice.parts)} of "
            "what is open; the last column says what each expects."
        )
    kind = advice.what.partition(" ")[0]
    other = next((p for p in found if p.what.partition(" ")[0] != kind and p.parts > 0.1), None)
    if other is not None and not outweighs(rows):
        yield f"Or {_asked(other, seen)}: {share_text(other.parts)}."


def _asked(parting: Parting, seen: Measured) -> str:
    kind, _, across = parting.what.partition(" ")
    words = {
        "outside": "the outside diameter",
        "span": f"the span across {across} {'tooth' if across == '1' else 'teeth'}",
        "helix": "the helix angle at the tips",
        "depth": "the whole depth of a tooth",
    }[kind]
    if not parting.fine:
        return words
    if kind == "helix":
        return f"{words}, with a protractor to {parting.tolerance:g} degrees"
    by = UNITS[seen.unit]
    return f"{words}, with a micrometer to {parting.tolerance / by:.1g} {seen.unit}"


def _plain(text: str, width: int) -> list[Text]:
    return [Text(line) for line in wrapped(text, width)] if text else []


def _hung(text: str, width: int) -> list[Text]:
    return [Text(line) for line in wrapped(text, width, hanging=2)]


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
