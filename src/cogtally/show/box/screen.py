"""The screen of `identify`: headline, next, pairs, marks, other answers, account, caution.

Each table shows what was seen beside what a set has, every disagreement marked in its row. The
sentences are left to `headline` and `next`, all numbers to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import log2

from rich.text import Text

from cogtally.catalog.model import written_pair
from cogtally.evidence import reading
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.gears.looks import feature_name, value_text
from cogtally.gears.notation import ReadMark
from cogtally.gears.trains import role_of
from cogtally.show import screen
from cogtally.show.box.headline import KINDS, sentences
from cogtally.show.box.next import Shelf, next_lines, remedy_lines

RATIO_DECIMALS = 3
#: A remark stands in its row where at least so much room is left and it takes no line more there
#: than below.
LEAST_ROOM = 24
#: Beyond so many different pairs in the sets beside the counts a cell says how many.
KINDS_SHOWN = 2
SETTLED = {reading.YES: "yes", reading.NO: "no", reading.OPEN: "not settled"}
AGREE, DISAGREE, NOT_COUNTED = "agree", "disagree", "not counted"
STATES = {True: AGREE, False: DISAGREE, None: "not listed"}


def pair_table(answer: reading.Answer, width: int) -> list[Text]:
    """Return the table of pairs as lines of at most `width` columns."""
    nearest = answer.verdict.leaning in (NEW, UNCATALOGUED)
    printed = bool(answer.beside) and not any(known.is_counted for known in answer.beside)
    rows = [pair_row(line) for line in answer.lines]
    for beside in _heads(answer):
        head = ("gear", "counted", "sum", "ratio", beside, "ratio" if beside else "")
        widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
        room = width - sum(widths) - len(screen.GAP) * len(widths)
        if room + len(screen.GAP) >= 0:
            break
    lines = [Text(_padded(head, widths).rstrip(), style=screen.STRONG)]
    for line, row in zip(answer.lines, rows, strict=True):
        remarks = pair_remarks(line, nearest, printed)
        lines += _with_remarks(_padded(row, widths).rstrip(), remarks, room, width)
    return lines


def check_table(answer: reading.Answer, checked: reading.Checked, width: int) -> list[Text]:
    """Return the verification sheet: a line for each pair, and the conclusion."""
    head = ("pair", "counted", f"{screen.plain(checked.set)} has", "check")
    rows = [
        (pair.name, written_pair(pair.counted), written_pair(pair.listed), _checked_words(pair))
        for pair in checked.pairs
    ]
    (titles, *told), before = screen.last_wrapped(head, rows, width)
    found = [Text(line, style=screen.STRONG) for line in titles]
    for pair, lines in zip(checked.pairs, told, strict=True):
        for line in map(Text, lines):
            if False in pair.agrees:
                line.stylize(screen.MARKED, before)
            found.append(line)
    return found + screen.text_lines([conclusion(answer)], width, screen.STRONG)


def conclusion(answer: reading.Answer) -> str:
    """Return what the verification sheet comes to: `Of 11 wheels 9 agree and 2 disagree: no.`"""
    if answer.checked is None:
        return ""
    total = _check_sum(answer.checked)
    expectation = answer.expectation
    return f"{total}." if expectation is None else f"{total}: {SETTLED[expectation.answer]}."


def _check_sum(checked: reading.Checked) -> str:
    states = [one for pair in checked.pairs for one in pair.agrees]
    if all(states):
        return f"All {len(states)} wheels agree"
    off = states.count(False)
    missing = sum(t is None for pair in checked.pairs for t in pair.counted)
    unknown = states.count(None) - missing
    parts = [f"{states.count(True)} agree"]
    parts += [f"{off} {'disagrees' if off == 1 else 'disagree'}"] if off else []
    parts += [f"{missing} {'is' if missing == 1 else 'are'} not counted"] if missing else []
    parts += [f"{unknown} {'is' if unknown == 1 else 'are'} not listed"] if unknown > 0 else []
    return f"Of {len(states)} wheels {screen.written_list(parts)}"


def _checked_words(pair: reading.CheckedPair) -> str:
    """`agrees`, `not counted`, or wheel by wheel: `driver agrees, driven disagrees`."""
    if pair.lacking:
        return f"disagrees: {screen.written_list(map(role_of, pair.wheels))} not in this family"
    found = screen.grouped(
        (NOT_COUNTED if count is None else STATES[agrees], role_of(wheel))
        for wheel, count, agrees in zip(pair.wheels, pair.counted, pair.agrees, strict=True)
    )
    if len(found) == 1:
        (state,) = found
        return f"all {state}" if state in (AGREE, DISAGREE) else state
    one = {state: "s" if state in (AGREE, DISAGREE) else "" for state in found}
    return ", ".join(
        f"{screen.written_list(roles)} {state}{one[state] if len(roles) == 1 else ''}"
        for state, roles in found.items()
    )


def column_head(answer: reading.Answer) -> str:
    """Return the head of the column of what stands beside the counts."""
    return _heads(answer)[0] or "listed"


def decimal(ratio: Fraction | None) -> str:
    """Return a ratio with three decimals, empty where it is not known."""
    return "" if ratio is None else f"{float(ratio):.{RATIO_DECIMALS}f}"


def _heads(answer: reading.Answer) -> tuple[str, ...]:
    """The head of the column of what stands beside the counts, and a shorter one."""
    if not answer.beside:
        return ("",)
    if len(answer.beside) > 1:
        return ("these have",)
    name = answer.beside[0].id
    if answer.verdict.leaning in (NEW, UNCATALOGUED):
        return (f"nearest {name} has", "nearest has")
    return (f"{name} has", "it has")


def _padded(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "".join(c.ljust(w) + screen.GAP for c, w in zip(cells, widths, strict=True))


def pair_row(line: reading.PairLine) -> tuple[str, ...]:
    """Return the cells of a line: gear, counted, sum, ratio, what is listed, its ratio."""
    if line.is_direct:
        return (line.name, "direct", "", decimal(line.ratio), "", decimal(line.listed_ratio))
    counted = [
        "_" if t is None else f"{t}*" if len(r) > 1 else str(t)
        for t, r in zip(line.teeth, line.results, strict=True)
    ]
    anything = any(t is not None for t in line.teeth)
    return (
        line.name,
        "/".join(counted) if anything else "",
        ", ".join("_" if s is None else str(s) for s in line.sums) if any(line.sums) else "",
        decimal(line.ratio),
        _listed(line),
        line.printed or decimal(line.listed_ratio),
    )


def _listed(line: reading.PairLine) -> str:
    if len(line.listed) > KINDS_SHOWN:
        return f"{len(line.listed)} kinds"
    return " or ".join(map(written_pair, line.listed))


def pair_remarks(line: reading.PairLine, nearest: bool, printed: bool) -> list[str]:
    """Return what disagrees in a line.

    That the nearest set is not the box's own needs no saying; nor do the sums of other sets where
    the box's own is known by printed ratios only.
    """
    found = []
    if line.lacking:
        found.append("not in this family")
    if len(line.differs) > 1 and not nearest:
        found.append(f"{screen.written_list(role_of(d.wheel) for d in line.differs)} differ")
    elif not nearest:
        found += [f"{role_of(d.wheel)} counted {d.counted}, not {d.listed}" for d in line.differs]
    off = [str(abs(mesh.off)) for mesh in line.off]
    if off and not printed:
        found.append(f"{'sum' if len(off) == 1 else 'sums'} off by {screen.written_list(off)}")
    found += [f"{a} and {b} of different sets" for a, b in line.parted]
    found += [
        f"{role_of(a)} and {role_of(b)} cannot run together: hand or angle of the helix"
        for a, b in line.clashing
    ]
    for wheel, teeth, results in zip(line.wheels, line.teeth, line.results, strict=True):
        if len(results) > 1:
            counts = screen.written_list(str(r) for r in results)
            found.append(f"* {role_of(wheel)} counted {counts}, likeliest {teeth}")
    return found + [_turned(turn) for turn in line.turns]


def _turned(read: reading.TurnRead) -> str:
    turns = f"turned {_turns(read.turn.turns_in)} in, {_turns(read.turn.turns_out)} out"
    held = ", one wheel held" if read.turn.held else ""
    far = ", which does not fit" if read.differs else ""
    return f"{turns}{held}: ratio about {float(read.ratio):.3g}{far}"


def _turns(turns: Fraction) -> str:
    return str(turns) if turns.denominator == 1 else f"{float(turns):.4g}"


def _with_remarks(row: str, remarks: Sequence[str], room: int, width: int) -> list[Text]:
    if not remarks:
        return [Text(row)]
    remark = "; ".join(remarks)
    below = screen.wrapped(remark, width - 2 * len(screen.GAP))
    if room >= min(LEAST_ROOM, len(remark)):
        parts = screen.wrapped(remark, room)
        if len(parts) <= len(below) + 1:
            start = width - room
            first = Text(row.ljust(start)).append(parts[0], style=screen.MARKED)
            return [first, *(Text(" " * start).append(p, style=screen.MARKED) for p in parts[1:])]
    return [Text(row), *(Text(screen.GAP * 2).append(p, style=screen.MARKED) for p in below)]


DIFFERS = "differs"


def look_table(lines: Sequence[reading.LookLine], beside: str, width: int) -> list[Text]:
    """Return a line for each thing looked at, what was seen, what is listed, and what differs."""
    rows = []
    for line in lines:
        what, seen, listed = look_row(line)
        rows.append((what, seen, f"{listed}{screen.GAP}{DIFFERS}" if line.differs else listed))
    (titles, *told), _ = screen.last_wrapped(("looked at", "seen", beside), rows, width)
    found = [Text(title, style=screen.STRONG) for title in titles]
    for line, (first, *more) in zip(lines, told, strict=True):
        found += [Text(first, style=screen.MARKED if line.differs else ""), *map(Text, more)]
    return found


def look_row(line: reading.LookLine) -> tuple[str, str, str]:
    """Return the cells of a line: what was looked at, what was seen, what is listed."""
    look, listed = line.look, screen.plain(" or ".join(line.listed)) or "_"
    if isinstance(look, ReadMark):
        of = f" of {screen.plain(look.piece)}" if look.piece else ""
        text = look.text.partition(":")[2].strip() if look.piece else look.text
        return f"mark{of}", screen.plain(text), listed
    of = f" of {screen.plain(look.owner)}" if look.owner else ""
    of = f", place {look.owner}" if look.owner.isdigit() else of
    times = f" x{look.times}" if look.times > 1 else ""
    seen = f"{value_text(look.feature, look.value)}{', unsure' if look.unsure else ''}{times}"
    return f"{feature_name(look.feature)}{of}", seen, listed


#: Says where it stands what a screen leaves out.
MORE = "More: --why."
INDENT, HANGING = 2, 2
FEWEST_SHOWN = 2
_KINDS = {
    MIXED: "a mixture: pieces of more than one set",
    VARIANT: "a variant: pieces that no listed set has",
    UNCATALOGUED: "not in the catalog",
}


def rival_lines(answer: reading.Answer, width: int, room_for: int, folded: int = 0) -> list[Text]:
    """Return the rivals as lines of at most `width` columns; one line says if there are none.

    `room_for`: so many lines there should be, head included; the two most probable are shown in
    any case, one where the screen was `folded` thrice. What was left out of it stands with --why.
    """
    shown = answer.rivals
    if not shown:
        return [Text(f"No other answer comes to 0.1 %.{f' {MORE}' if folded else ''}")]
    fewest = FEWEST_SHOWN if folded < 3 else 1
    told: list[Text] = []
    column = max(len(screen.per_cent(r.share.probability)) for r in shown)
    for number, rival in enumerate(shown):
        head = f"{screen.per_cent(rival.share.probability):>{column}}  "
        room = width - INDENT - len(head)
        text = screen.wrapped(rival_text(answer, rival, room), room, HANGING)
        if number >= fewest and answer.account is None and len(told) + len(text) >= room_for:
            folded = folded or 1
            break
        told += map(Text, screen.hung(" " * INDENT + head, text))
    all_shown = answer.verdict.kind == reading.NARROWED or not answer.verdict.is_sure
    title = Text("Answers for the whole box" if all_shown else "Other answers", style=screen.STRONG)
    return [title.append(f". {MORE}" if folded else "", style="not bold"), *told]


def rival_text(answer: reading.Answer, rival: reading.Rival, room: int) -> str:
    """Return a rival by name, with what of the counts it does not have, for a line so wide."""
    share = rival.share
    if share.kind == NEW:
        return f"a set of {share.family} that the catalog lacks"
    if share.kind != MATCHED:
        return _KINDS[share.kind]
    family = answer.catalog.by_id[share.family]
    names = [f"{share.family}/{share.sets[0]}", *share.sets[1:]]
    name = screen.plain(screen.written_list(names, "or"))
    title = screen.plain(next(s.title for s in family.sets if s.id == share.sets[0]))
    titled = f"{name}, {title}" if len(names) == 1 and title != share.sets[0] else name
    differing = len(rival.differences)
    if not differing:
        return f"{titled}: {_fit(answer, rival)}"
    # As many wheels as the line has room for; the table and the JSON have them all.
    told = [_wheels(rival, named) for named in range(differing, 0, -1)]
    texts = [f"{called}: has {wheels}" for called in (titled, name) for wheels in told]
    return next((text for text in texts if len(text) <= room), texts[-1])


def _wheels(rival: reading.Rival, named: int) -> str:
    has = [
        f"no {d.wheel}" if d.listed is None else f"{d.wheel} {d.listed}"
        for d in rival.differences[:named]
    ]
    more = len(rival.differences) - named
    if more:
        has.append(f"{more} other {'wheel' if more == 1 else 'wheels'}")
    return screen.written_list(has)


def _fit(answer: reading.Answer, rival: reading.Rival) -> str:
    """How a rival fits of which no count speaks."""
    near = rival.near
    error = None if near is None else near.worst_ratio_error
    if near is not None and near.tooth_differences is None:
        return "printed ratios only" + ("" if error is None else f", within {100 * error:.2g} %")
    if answer.seen.counts:
        return "has every count"
    return "nothing speaks against it" if error is None else f"ratios within {100 * error:.2g} %"


#: The widest bar on either side of the middle, in columns.
REACH = 8
BITS = 8
#: From so many bits on the odds are only said to be over a million.
MOST_ODDS = log2(1_000_000)


def account_lines(account: reading.Account, width: int) -> list[Text]:
    """Return the account as lines of at most `width` columns."""
    head = f"Why: {account_sides(account)}, in bits (1 bit doubles the odds)"
    lines = screen.text_lines([head], width, screen.STRONG)
    counted = account_rows(account)
    left = [row.seen for row in account.rows if row not in counted]
    largest = max([abs(row.bits) for row in counted], default=1.0) or 1.0
    for row in counted:
        # A bar that grows to the right for and to the left against.
        bar = ("-" if row.bits < 0 else "+") * round(REACH * abs(row.bits) / largest)
        left_bar, right_bar = (bar, "") if row.bits < 0 else ("", bar)
        head = f"{screen.signed(row.bits):>{BITS}} {left_bar:>{REACH}}|{right_bar:<{REACH}} "
        reason = screen.wrapped(
            screen.plain(f"{row.seen}: {row.because}"), width - len(head), HANGING
        )
        lines += map(Text, screen.hung(head, reason))
    total = account.total
    side = "for" if total >= 0 else "against"
    lines.append(Text(f"{screen.signed(total):>{BITS}}  total: {odds(total)} {side}"))
    if left:
        text = f"Not counted, and worth 0 bits either way: {', '.join(left)}."
        lines += screen.text_lines([screen.plain(text)], width)
    return lines


def account_sides(account: reading.Account) -> str:
    """Return what an account weighs: `alder-4/wide against alder-4/late, as far as counted`."""
    sides = f"{reading.label(account.headline)} against {reading.label(account.rival)}"
    return screen.plain(
        f"{sides}, {'as far as counted' if account.so_far else 'for the whole box'}"
    )


def account_rows(account: reading.Account) -> list[reading.Row]:
    """Return the rows of what was seen, those left out that nobody counted."""
    return [row for row in account.rows if row.bits != 0.0 or "not counted" not in row.because]


def odds(bits: float) -> str:
    """Return bits as odds, whichever side they are on: `3.5 to 1`, `1,240 to 1`."""
    if abs(bits) >= MOST_ODDS:
        return "over 1,000,000 to 1"
    against_one = 2 ** abs(bits)
    if against_one < 100:
        return f"{against_one:.3g} to 1"
    return f"{float(f'{against_one:.3g}'):,.0f} to 1"


#: "in 24 lines for a four-speed box": the less probable rivals give way, then the
#: longer tale of what makes the box whole.
LINES = 24
FOLDS = 3
#: The colour of the word that a headline begins with; any other is asked about.
COLOURS = {MATCHED: "green", reading.NARROWED: "green", NEW: "cyan", UNCATALOGUED: "red"}
DOUBT = "yellow"


def show_answer(
    answer: reading.Answer, console: screen.Console, shelf: Shelf | None = None
) -> None:
    """Print all that is to be said of one assembled box; `shelf` is what is for sale, if asked."""
    width = console.width
    lines: list[Text] = []
    # With the account all is told; without it what is of least use gives way.
    for folded in range(1 if answer.account is not None else FOLDS + 1):
        lines = _lines(answer, width, shelf, folded)
        if len(lines) <= LINES:
            break
    console.print(Text("\n").join(lines), overflow="fold")


def _lines(answer: reading.Answer, width: int, shelf: Shelf | None, folded: int) -> list[Text]:
    lines = [*_headline(answer, width), *map(Text, next_lines(answer, width))]
    lines += [*map(Text, remedy_lines(answer, shelf, width, folded)), Text()]
    if answer.expectation is not None and answer.checked is not None:
        lines += [*check_table(answer, answer.checked, width), Text()]
    elif answer.seen.counts or answer.seen.turns:
        lines += [*pair_table(answer, width), Text()]
    if answer.looks:
        lines += [*look_table(answer.looks, column_head(answer), width), Text()]
    end = [Text(), *screen.caution_lines(width, answer.catalog.demo)]
    rivals = rival_lines(answer, width, LINES - len(lines) - len(end), folded)
    if answer.account is not None:
        end = [Text(), *account_lines(answer.account, width), *end]
    return [*lines, *rivals, *end]


def _headline(answer: reading.Answer, width: int) -> Sequence[Text]:
    """The headline, its first word in colour, and the sentences behind it."""
    first, *others = sentences(answer)
    lines = screen.text_lines([first], width, screen.STRONG)
    kind = answer.verdict.kind
    lines[0].stylize(f"{screen.STRONG} {COLOURS.get(kind, DOUBT)}", 0, len(KINDS[kind]))
    return lines + screen.text_lines([" ".join(others)], width)
