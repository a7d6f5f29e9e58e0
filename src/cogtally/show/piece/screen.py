"""The screen and the JSON of `piece`: what it is, what it mates with, other answers, what is next.

Keys of JSON are added, never changed, within a format number. Sentences are left to `words`, all
numbers to the evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from rich.text import Text

from cogtally.evidence import loose
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading import UNDECIDED
from cogtally.show import screen
from cogtally.show.box import LEAST_LISTED
from cogtally.show.piece import words

LINES = 24
INDENT, HANGING = 2, 2
#: So many leading answers are shown with what they mate with, where none is settled.
LEADERS = 3
#: An answer so much rarer than the leading one is no leader.
LEAST_OF_LEADER = 0.1
FEWEST_SHOWN = 2
MOST_LEFT_OUT = 0.10
#: In a line of several answers one so much rarer than the first of them is not named or counted;
#: by whether it is listed.
LEAST_OF_NAMED = {True: 0.02, False: 0.2}
TEETH_NAMED = 3
NOT_LISTED = "one not listed"
#: Verdicts of which the headline is the leading answer.
NAMED = (loose.TYPE, loose.RECOUNT, loose.UNLISTED)
UNCATALOGUED_ROW = "not in the catalog"

#: A line of answers: its probability, its text, and its groups; none for uncatalogued.
Row = tuple[float, str, tuple[loose.LooseGroup, ...]]


def show_piece(answer: loose.LooseAnswer, console: screen.Console) -> None:
    """Print all that is to be said of one loose piece."""
    width = console.width
    first, *others = words.sentences(answer)
    lines = screen.text_lines([first], width, screen.STRONG)
    lines += [*screen.text_lines([" ".join(others)], width), Text()]
    named = answer.verdict.kind in (loose.TYPE, loose.RECOUNT)
    if named:
        lines += [*_table(answer, answer.groups[0], width), Text()]
    if answer.looks and named:
        from cogtally.show.box import look_table

        lines += [*look_table(answer.looks, "listed", width), Text()]
    end = [Text()]
    following = "" if words.is_far(answer) else " ".join(words.next_sentences(answer))
    if following:
        end += [*screen.text_lines([following], width), Text()]
    end += screen.caution_lines(width, answer.catalog.demo)
    if answer.fits and answer.is_counted and not words.is_far(answer):
        lines += _answers(answer, width, LINES - len(lines) - len(end))
    else:
        end = end[1:]
    console.print(Text("\n").join([*lines, *end]), overflow="fold")


def _table(answer: loose.LooseAnswer, group: loose.LooseGroup, width: int) -> list[Text]:
    """Each wheel of the piece in the order written, what was counted, and what it mates with."""
    mates: dict[int, list[str]] = {}
    for mate in group.mates():
        mates.setdefault(mate.wheel, []).append(words.mate_text(group, mate))
    counts = map(loose.counted_teeth, answer.seen.places)
    counted = dict(zip(group.wheels, counts, strict=True))
    off = {o.place for o in group.off}
    rows, marked = [], []
    for index in _order(group):
        place = group.wheels.index(index) + 1 if index in group.wheels else None
        count, teeth = counted.get(index), group.teeth[index]
        mark = "*" if place in off else ""
        marked.append(bool(mark))
        row = (
            ".." if place is None else str(place),
            group.piece.wheels[index],
            "" if place is None else "_" if count is None else f"{count}{mark}",
            "_" if teeth is None else str(teeth),
            "; ".join(mates.get(index, [])),
        )
        rows.append(row)
    head = ("place", "wheel", "counted", "listed", "mates with")
    (titles, *told), _ = screen.last_wrapped(head, rows, width, hanging=HANGING)
    lines = [Text(title, style=screen.STRONG) for title in titles]
    for (first, *more), is_off in zip(told, marked, strict=True):
        lines += [Text(first, style=screen.MARKED if is_off else ""), *map(Text, more)]
    return lines


def _order(group: loose.LooseGroup) -> Sequence[int]:
    """The wheels of a piece, from the end from which it was written."""
    every = range(len(group.piece.wheels))
    backwards = len(group.wheels) > 1 and group.wheels[0] > group.wheels[-1]
    return every[::-1] if backwards else every


def _answers(answer: loose.LooseAnswer, width: int, room_for: int) -> list[Text]:
    """The answers as lines of at most `width` columns; one line says what is left out.

    `room_for`: so many lines there should be, head included; the two most probable are shown in
    any case. Where else too much would be left out, fewer are shown with their mates, and in the
    end those of one family in one line.
    """
    rows = _texts(answer, LEADERS)
    if sum(row[0] for row in rows) < screen.LEAST_SHOWN:
        return [Text("No other answer comes to 0.1 %.")]
    lines, left_out = _lines(rows, width, room_for)
    for fewer in (*(_texts(answer, n) for n in range(LEADERS - 1, 0, -1)), _by_family(answer)):
        if left_out < MOST_LEFT_OUT:
            break
        lines, left_out = _lines(fewer, width, room_for)
    said_already = answer.verdict.kind in (*NAMED, UNCATALOGUED)
    head = "Other answers" if said_already else "What it may be"
    return [Text(head, style=screen.STRONG), *lines]


def _lines(rows: Sequence[Row], width: int, room_for: int) -> tuple[list[Text], float]:
    """The rows that there is room for under a head, and the probability of the others."""
    shares = [share for share, _, _ in rows if share >= screen.LEAST_SHOWN]
    # What is left out may come to more than any one.
    column = max(len(screen.per_cent(share)) for share in [*shares, sum(shares) / 2])
    room = width - INDENT - column - len(screen.GAP)
    lines: list[Text] = []
    for number, (share, text, _) in enumerate(rows):
        parts = screen.wrapped(text, room, HANGING)
        after = sum(row[0] for row in rows[number + 1 :])
        # One line is the head, and one is kept for what is left out, if it comes to anything.
        kept = 2 if after >= screen.LEAST_SHOWN else 1
        full = number >= FEWEST_SHOWN and len(lines) + len(parts) > room_for - kept
        if full or share < screen.LEAST_SHOWN:
            left = share + after
            if left >= screen.LEAST_SHOWN:
                lines.append(Text(f"{_indented(left, column)}{_left_out(rows[number:])}"))
            return lines, left
        lines.append(Text(f"{_indented(share, column)}{parts[0]}"))
        lines += [Text(" " * (width - room) + part) for part in parts[1:]]
    return lines, 0.0


def _indented(share: float, column: int) -> str:
    return f"{' ' * INDENT}{screen.per_cent(share):>{column}}{screen.GAP}"


def _texts(answer: loose.LooseAnswer, leaders: int) -> list[Row]:
    """Every answer but the one that the headline gives, falling.

    Those alike in family and piece in one row, but for a piece that the headline names already.
    """
    kind, outside = answer.verdict.kind, answer.posterior.uncatalogued
    lead = answer.groups[0]
    together: dict[object, list[loose.LooseGroup]] = {}
    for number, group in enumerate(answer.groups):
        own = (group.family.id, group.piece.name) == (lead.family.id, lead.piece.name)
        alone = own and kind in (*NAMED, loose.PIECE)
        if number or kind not in NAMED:
            key = (group.family.id, group.piece.name, number if alone else -1)
            together.setdefault(key, []).append(group)
    least = LEAST_OF_LEADER * max(lead.probability, outside)
    rows: list[Row] = []
    for groups in together.values():
        share = sum(group.probability for group in groups)
        mates = kind in (loose.PIECE, UNDECIDED) and len(rows) < leaders and share >= least
        rows.append((share, _alike_text(answer, groups, mates), tuple(groups)))
    if kind != UNCATALOGUED:
        rows.append((outside, UNCATALOGUED_ROW, ()))
    return sorted(rows, key=lambda row: -row[0])


def _alike_text(answer: loose.LooseAnswer, groups: Sequence[loose.LooseGroup], mates: bool) -> str:
    """What one row says of answers alike in family and piece."""
    lead = groups[0]
    named = [
        group
        for group in groups[1:]
        if group.probability >= LEAST_OF_NAMED[group.is_listed] * lead.probability
    ]
    if not named:
        text = words.group_text(answer, lead)
        if not (mates and lead.is_listed):
            return text
        told = dict.fromkeys(words.mate_text(lead, mate) for mate in lead.mates())
        return f"{text}; mates with {screen.written_list(told)}"
    types = [
        f"{screen.teeth_text(group.teeth)} of {words.sets_text(group.sets)}"
        if group.is_listed
        else NOT_LISTED
        for group in [lead, *named]
    ]
    return f"{lead.family.id} {words.piece_name(lead)} {words.capped(types, TEETH_NAMED)}"


def _by_family(answer: loose.LooseAnswer) -> list[Row]:
    """The same, but for the leading answer one line for all that a family has."""
    lead, *others = _texts(answer, 1)
    families: dict[str, list[loose.LooseGroup]] = {}
    for _, _, groups in others:
        for group in groups:
            families.setdefault(group.family.id, []).append(group)
    rows = [row for row in others if not row[2]]
    for family, members in families.items():
        rest = "the rest of " if any(g.family.id == family for g in lead[2]) else ""
        text = f"{rest}{family}: {_by_piece(members)}"
        if len(_worth_naming(members)) == 1 and not rest:
            text = words.group_text(answer, members[0])
        rows.append((sum(g.probability for g in members), text, tuple(members)))
    return [lead, *sorted(rows, key=lambda row: -row[0])]


def _by_piece(groups: Sequence[loose.LooseGroup]) -> str:
    """The teeth of each piece: `R-idler 18; input-shaft 18 or 19`."""
    pieces: dict[str, list[str]] = {}
    for group in _worth_naming(groups):
        teeth = screen.teeth_text(group.teeth) if group.is_listed else NOT_LISTED
        pieces.setdefault(words.piece_name(group), []).append(teeth)
    return "; ".join(f"{name} {words.capped(teeth, TEETH_NAMED)}" for name, teeth in pieces.items())


def _left_out(rows: Sequence[Row]) -> str:
    """What to call the answers that there is no room for; those that are far rarer not counted."""
    named = {id(group) for group in _worth_naming([some[0] for _, _, some in rows if some])}
    pieces = [some for _, _, some in rows if some and id(some[0]) in named]
    families = {some[0].family.id for some in pieces}
    of = f"{len(families)} families" if len(families) > 1 else "".join(families)
    found = [f"{len(pieces)} more of {of}"] if pieces else []
    outside = any(not some and share >= screen.LEAST_SHOWN for share, _, some in rows)
    return ", or ".join([*found, *([UNCATALOGUED_ROW] if outside else [])])


def _worth_naming(groups: Sequence[loose.LooseGroup]) -> list[loose.LooseGroup]:
    """Those that are not far rarer than the most probable of them."""
    most = max((g.probability for g in groups), default=0.0)
    return [g for g in groups if g.probability >= LEAST_OF_NAMED[g.is_listed] * most]


def piece_json(answer: loose.LooseAnswer) -> dict[str, Any]:
    """Return an answer as plain lists, texts and numbers, in full double precision."""
    found = answer.posterior
    added: dict[str, Any] = {}
    if answer.looks:
        from cogtally.show.box import observed_json

        added["observed"] = observed_json(answer.looks)
    expected = answer.expectation
    if expected is not None:
        added["expect"] = {
            **screen.keys_of(expected, "family", "set", "answer", "probability"),
            "off": off_json(answer.expected_off),
        }
    lead = answer.groups[0] if answer.groups else None
    return {
        "format": screen.FORMAT,
        "catalog": screen.catalog_json(answer.catalog),
        "verdict": {
            **screen.keys_of(answer.verdict, "kind", "probability"),
            "off": off_json(lead.off if lead else ()),
        },
        "answers": [
            {
                **screen.keys_of(share, "family", "piece"),
                "type": None if share.kind is None else list(share.kind.teeth),
                **screen.keys_of(share, "sets", "probability"),
            }
            for share in found.answers(LEAST_LISTED)
        ],
        "uncatalogued": found.uncatalogued,
        **added,
        "hands": {"steady": found.steady, "hasty": 1 - found.steady},
        "next": sorted(
            ({"position": i, "bits": bits} for i, bits in enumerate(found.worth, 1)),
            key=lambda worth: -worth["bits"],
        ),
    }


def off_json(off: Iterable[loose.Off]) -> list[dict[str, int]]:
    """Return the places where counts are not those listed."""
    return [screen.keys_of(o, "place", "counted", "listed") for o in off]
