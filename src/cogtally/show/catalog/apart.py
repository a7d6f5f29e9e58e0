"""What `catalog apart` shows, and its JSON: which wheels tell sets apart, and a key to follow.

The key is a tree of lines on a screen, a branching tree on paper. All that is said is left to the
catalog.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Literal

from rich.text import Text

from cogtally.catalog.apart import MEND, NOTICE, TELL, Apart, Branch, Choice, Close, Key, Node
from cogtally.catalog.model import Catalog, Family
from cogtally.show import screen
from cogtally.show.ratios import decimal

if TYPE_CHECKING:
    from cogtally.show.drawing import Drawing, Item


ANY_OTHER = "other"
AVERAGE_PLACES = 1
#: A branch that would begin further right than this share of the width goes on further down.
WIDEST_INDENT = 0.5
#: On paper: between rows and round the words of a count, in ems; before and behind the teeth.
_ROW, _PAD, _BRANCH = 1.75, 0.45, 1.1
#: Height of letters of a tree on a page of its own, and the page's margin, in millimetres.
TREE, MARGIN = 4.0, 6.0


def key_heading(key: Key) -> str:
    """Return how long a key is."""
    average = decimal(key.average, AVERAGE_PLACES)
    most = screen.number_of(key.most, "count")
    return f"A key to follow: {most} at most, {average} on average"


def key_words(key: Key) -> str:
    """Return what the average is of, what is known of it, and what a strange count means."""
    short = (
        "No key has fewer on average, the sets weighed by commonness."
        if key.is_exact
        else "Each wheel is the one that tells most by itself, the sets weighed by commonness; the "
        "family is too large to find the shortest key."
    )
    return f"{short} A count that is not listed: none of these sets, or count again."


def key_wheels(key: Key) -> list[str]:
    """Return the wheels that a key asks for, the first count first, each once."""
    waiting, found = deque([0]), []
    while waiting:
        node = key.nodes[waiting.popleft()]
        found.append(node.wheel)
        waiting += [b.node for b in node.branches if b.node is not None]
    return list(dict.fromkeys(found))


def key_tree(key: Key, family: Family, size: float, *, titles: bool = True) -> list[Item]:
    """Return a key as a tree that branches to the right from (0, 0), in letters of one size.

    A wheel to count stands in a frame, the teeth on its branches, the sets at their ends, with
    their `titles`.
    """
    from cogtally.show.drawing import Line, Pen, Rectangle, Text, text_width

    named = {known.id: known.title if titles else known.id for known in family.sets}
    items: list[Item] = []
    row = 0

    def draw(number: int, x: float) -> float:
        """Draw a node with all that follows at `x`; return the height of its middle."""
        nonlocal row
        node = key.nodes[number]
        words = screen.plain(node.wheel)
        end = x + text_width(words, size, bold=True) + 2 * _PAD * size
        names = [ANY_OTHER if b.teeth is None else str(b.teeth) for b in node.branches]
        fork = end + _BRANCH * size
        start = fork + max(text_width(n, size) for n in names) + 2 * _PAD * size
        heights = []
        for name, branch in zip(names, node.branches, strict=True):
            if branch.node is None:
                row += 1
                y = row * _ROW * size
                said = _sets_of(branch, named)
                items.append(Text(start + size, y + 0.34 * size, said, size, bold=True))
            else:
                y = draw(branch.node, start + size)
            heights.append(y)
            items.append(Text((fork + start) / 2, y + 0.34 * size, name, size, "middle"))
            items.append(Line((fork, y), (fork + _PAD * 0.4 * size, y), Pen(0.25)))
            items.append(Line((start, y), (start + 0.8 * size, y), Pen(0.25)))
        middle = (heights[0] + heights[-1]) / 2
        high = 1.4 * size
        items.append(Rectangle(x, middle - high / 2, end - x, high, Pen(0.3), radius=0.3 * size))
        items.append(Text(x + _PAD * size, middle + 0.34 * size, words, size, bold=True))
        items.append(Line((end, middle), (fork, middle), Pen(0.25)))
        items.append(Line((fork, heights[0]), (fork, heights[-1]), Pen(0.25)))
        return middle

    draw(0, 0.0)
    return items


def key_drawing(key: Key, family: Family, demo: bool) -> Drawing:
    """Return a page with a key as a branching tree, what it is of over it, what it is not below."""
    from cogtally.show.drawing import GREY, Drawing, Group, Page, extent_of, paragraph, placed

    tree = key_tree(key, family, TREE)
    box = extent_of(tree)
    width = max(box.width + 2 * MARGIN, 130.0)
    items: list[Item] = []
    y = MARGIN
    cautions = [screen.DEMO_CAUTION] if demo else []
    said = [(family.title, 1.5 * TREE, True), (key_heading(key), TREE, True)]
    for text, size, bold in (*said, (key_words(key), TREE, False)):
        lines, y = paragraph(screen.plain(text), MARGIN, width - MARGIN, y, size, bold=bold)
        items += lines
        y += 0.4 * size
    items.append(Group("key", placed(tree, MARGIN - box.left, y + 2.0 - box.top)))
    y += 2.0 + box.height + 4.0
    for text in (*cautions, screen.CAUTION):
        lines, y = paragraph(text, MARGIN, width - MARGIN, y, 0.85 * TREE, colour=GREY)
        items += lines
    about = " ".join(_tree_lines(key, family, 1000))
    title = f"{screen.plain(family.title)}: a key to follow"
    return Drawing((Page(width, y + MARGIN, tuple(items)),), title, about)


def _sets_of(branch: Branch, titles: dict[str, str]) -> str:
    """The sets at an end: one with its title, several that no count parts by their ids."""
    if len(branch.sets) > 1:
        return screen.written_list(map(screen.plain, branch.sets), "or")
    known = branch.sets[0]
    return screen.plain(known) + (
        f" ({screen.plain(titles[known])})" if titles[known] != known else ""
    )


def _tree_lines(key: Key, family: Family, width: int) -> list[str]:
    """Return the lines of a key; a part too deep for the width goes on below, under its number."""
    titles = {known.id: known.title for known in family.sets}
    later: deque[int] = deque([0])
    numbers: dict[int, int] = {0: 1}

    def below(node: Node, indent: int) -> Iterator[str]:
        names = [ANY_OTHER if b.teeth is None else str(b.teeth) for b in node.branches]
        column = max(map(len, names))
        for name, branch in zip(names, node.branches, strict=True):
            head = " " * indent + f"{name:>{column}}  "
            if branch.node is None:
                yield from screen.hung(
                    head, screen.wrapped(_sets_of(branch, titles), width - len(head), 2)
                )
            elif len(head) > WIDEST_INDENT * width:
                later.append(branch.node)
                yield f"{head}go on at {numbers.setdefault(branch.node, len(numbers) + 1)}"
            else:
                following = key.nodes[branch.node]
                yield f"{head}count {screen.plain(following.wheel)}"
                yield from below(following, len(head))

    found: list[str] = []
    while later:
        number = later.popleft()
        node = key.nodes[number]
        mark = f"{numbers[number]}: " if numbers[number] > 1 else ""
        found += [f"{mark}Count {screen.plain(node.wheel)}", *below(node, 2)]
    return found


#: So many pairs of sets are listed under one heading; the JSON has all of them.
MOST_PAIRS = 10
#: So many wheels are named that would do in place of another, the last of them a number of others.
MOST_INSTEAD = 3
NOTHING = "-"
#: Behind a number of wheels: that some pairs of sets differ in too few wheels for it.
NOT_ALL = "*"

THROUGHOUT = (
    "All this takes the box for one of these sets throughout. `identify` also weighs boxes of "
    "mixed pieces and boxes that the catalog lacks."
)
_HEADS = {
    TELL: "To tell the sets apart",
    NOTICE: "To notice one miscount",
    MEND: "To name the set in spite of one miscount",
}
_WHY = {
    NOTICE: "in two of these at least, so one wrong count makes no set of another.",
    MEND: "in three of these at least: one wrong count off the right set is two or more off any "
    "other.",
}


def show_apart(found: Apart, demo: bool, console: screen.Console) -> None:
    """Print all that is to be said of one family."""
    width = console.width
    lines = screen.text_lines([_heading(found)], width, screen.STRONG)
    if found.is_too_large:
        lines += _texts("Too many sets to compare each with each; nothing was worked out.", width)
    elif len(found.sets) < 2:
        lines += _texts("There is nothing to tell apart by counts.", width)
    else:
        for choice in found.choices:
            lines += [Text(), *_choice_lines(found, choice, width)]
        lines += _close_lines(found, width)
    lines += _alike_lines(found, width)
    if found.ratio_only:
        lines.append(Text())
        ids = screen.written_list(map(screen.plain, found.ratio_only))
        lines += _texts(
            f"Known by printed ratios only, so that no count parts them from any: {ids}.", width
        )
    if found.key is not None:
        lines += [Text(), *screen.text_lines([key_heading(found.key)], width, screen.STRONG)]
        lines += screen.text_lines([key_words(found.key)], width)
        lines += map(Text, _tree_lines(found.key, found.family, width))
    about = screen.text_lines([THROUGHOUT], width, screen.DIM) if found.key is not None else []
    _print_with_cautions(lines, about, demo, console)


def show_all_apart(families: Sequence[Apart], demo: bool, console: screen.Console) -> None:
    """Print a line for each family."""
    from rich.table import Table

    grid = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style=screen.STRONG)
    columns = ["family", "sets", "ratios\nonly", "wheels\nto tell", "to\nnotice", "to\nmend"]
    for place, column in enumerate([*columns, "stay\ntogether"]):
        justify: Literal["left", "right"] = "left" if place == 0 else "right"
        grid.add_column(column, justify=justify, overflow="fold", vertical="bottom")
    for found in families:
        grid.add_row(*map(Text, _row(found)))
    console.print(grid)
    console.print()
    _print_with_cautions(screen.text_lines(_legend(families), console.width), [], demo, console)


def _print_with_cautions(
    lines: list[Text], about: list[Text], demo: bool, console: screen.Console
) -> None:
    end = [Text(), *about, *screen.caution_lines(console.width, demo)]
    console.print(Text("\n").join([*lines, *end]), overflow="fold")


def _texts(text: str, width: int, indent: int = 0, hanging: int = 0) -> list[Text]:
    return [Text(" " * indent + line) for line in screen.wrapped(text, width - indent, hanging)]


def _heading(found: Apart) -> str:
    family = found.family
    title = screen.plain(family.title)
    name = title if title == family.id else f"{title} ({screen.plain(family.id)})"
    if not found.sets:
        return f"{name}: no counted set"
    sets, wheels = len(found.sets), len(family.train.wheels)
    return f"{name}: {screen.number_of(sets, 'counted set')}, {screen.number_of(wheels, 'wheel')}"


def _choice_lines(found: Apart, choice: Choice, width: int) -> list[Text]:
    """How many wheels, which, why so many, and whether that is all that could be wished for."""
    short = len(found.short_of(choice.differences))
    all_pairs = len(found.sets) * (len(found.sets) - 1) // 2
    head = _HEADS[choice.differences]
    if short == all_pairs:
        few = "two" if choice.differences == NOTICE else "three"
        none = f"no choice does it, for no two of them differ in {few} wheels; count twice instead"
        if choice.differences == TELL:
            none = "no count parts any two of them"
        return _texts(f"{head}: {none}.", width, hanging=2)
    count = screen.number_of(len(choice.wheels), "wheel")
    if not choice.is_exact:
        count = f"at most {count} (the search was cut short; at least {choice.at_least})"
    but = f", for all but {screen.number_of(short, 'pair')} of sets" if short else ""
    lines = screen.text_lines([f"{head}: {count}{but}"], width, screen.STRONG, 2)
    lines += _texts(_wheels(choice), width, indent=2)
    if choice.differences in _WHY:
        which = "All other pairs differ" if short else "Every two sets differ"
        lines += _texts(f"{which} {_WHY[choice.differences]}", width, indent=2)
    return lines


def _wheels(choice: Choice) -> str:
    """The wheels, each with those that would do in its place."""
    told = []
    for wheel, instead in zip(choice.wheels, choice.instead, strict=True):
        others = list(map(screen.plain, instead))
        if len(others) > MOST_INSTEAD:
            others[MOST_INSTEAD - 1 :] = [f"{len(others) - MOST_INSTEAD + 1} others"]
        told.append(screen.plain(wheel) + (f" (or {', '.join(others)})" if others else ""))
    return f"{', '.join(told)}."


def _close_lines(found: Apart, width: int) -> list[Text]:
    """The pairs of sets that no count parts, then those that differ in too few wheels."""
    lines: list[Text] = []
    for head, pairs in (
        ("No count tells these apart", found.short_of(TELL)),
        ("Too alike for that: count these wheels twice", _differing(found)),
    ):
        if pairs:
            lines += [Text(), Text(head, style=screen.STRONG)]
        for pair in pairs[:MOST_PAIRS]:
            told = _texts(_close(pair), width, indent=2, hanging=2)
            for line in told:
                line.highlight_words(
                    [screen.plain(wheel) for wheel in pair.differ_in], screen.STRONG
                )
            lines += told
        if len(pairs) > MOST_PAIRS:
            more = screen.number_of(len(pairs) - MOST_PAIRS, "more pair")
            lines += _texts(f"and {more}; --json lists them all", width, indent=2)
    return lines


def _alike_lines(found: Apart, width: int) -> list[Text]:
    """The wheels that all sets have alike, in one row: no count of them parts any two."""
    family = found.family
    if len(found.sets) < 2:
        return []
    teeth = [family.teeth_of(known) for known in family.counted_sets]
    alike = [
        f"{screen.plain(wheel)} {of[0]}"
        for wheel in family.train.wheels
        if (of := [one.get(wheel) for one in teeth])[0] is not None and len(set(of)) == 1
    ]
    text = f"Alike in all sets: {', '.join(alike)}."
    return [Text(), *_texts(text, width, hanging=2)] if alike else []


def _differing(found: Apart) -> list[Close]:
    """Pairs in too few wheels apart, the closest first; if all are, those of a single wheel."""
    all_pairs = len(found.sets) * (len(found.sets) - 1) // 2
    few = MEND if len(found.short_of(MEND)) < all_pairs else NOTICE
    return sorted(
        (pair for pair in found.short_of(few) if pair.differ_in),
        key=lambda pair: len(pair.differ_in),
    )


def _close(pair: Close) -> str:
    sets = screen.written_list(map(screen.plain, pair.sets))
    if pair.differ_in:
        return f"{sets} differ in {screen.written_list(map(screen.plain, pair.differ_in))} only"
    gaps = screen.written_list(map(screen.plain, pair.gaps))
    how = "alike in every wheel" if pair.is_alike else f"alike but for gaps: {gaps}"
    marks = _marks(pair)
    return f"{sets}: {how}" + (f"; look at {marks}" if marks else "")


def _marks(pair: Close) -> str:
    """What parts two sets beside their teeth; what is so of several wheels is told once."""
    owners = screen.grouped(
        (
            screen.plain(f"{mark.feature or 'mark'} {' or '.join(map(str, mark.values))}"),
            screen.plain(mark.owner),
        )
        for mark in pair.marks
    )
    told: dict[str, list[str]] = {}
    for what, names in owners.items():
        more = f" and {screen.number_of(len(names) - 1, 'other')}" if len(names) > 1 else ""
        told.setdefault(f"{names[0]}{more}", []).append(what)
    return screen.written_list(f"{name} ({', '.join(what)})" for name, what in told.items())


def _row(found: Apart) -> list[str]:
    numbers = [_cell(found, choice) for choice in found.choices]
    return [
        screen.plain(found.family.id),
        str(len(found.sets)),
        str(len(found.ratio_only) or NOTHING),
        *(numbers if len(found.sets) > 1 and numbers else [NOTHING] * 3),
        str(len(found.together) or NOTHING),
    ]


def _cell(found: Apart, choice: Choice) -> str:
    short = len(found.short_of(choice.differences))
    if short == len(found.sets) * (len(found.sets) - 1) // 2:
        return NOTHING
    at_most = "" if choice.is_exact else "≤"
    return f"{at_most}{len(choice.wheels)}{NOT_ALL if short else ''}"


def _legend(families: Iterable[Apart]) -> list[str]:
    """What the columns mean; of the signs only those that are there."""
    known = list(families)
    choices = [(found, choice) for found in known for choice in found.choices]
    lines = [
        "Wheels to count, the fewest that there can be: to tell the sets from each other, to "
        "notice one miscount, to name the set in spite of one. Stay together: sets that no count "
        "parts from some other."
    ]
    if any(_cell(found, choice).endswith(NOT_ALL) for found, choice in choices):
        lines.append(f"{NOT_ALL} not for every pair of sets: some differ in too few wheels.")
    if any(_cell(found, choice) == NOTHING for found, choice in choices):
        lines.append(f"{NOTHING} no two sets differ in enough wheels.")
    if not all(choice.is_exact for _, choice in choices):
        lines.append("≤ at most so many: the search was cut short.")
    if any(found.is_too_large for found in known):
        large = screen.written_list(
            screen.plain(found.family.id) for found in known if found.is_too_large
        )
        lines.append(f"Too many sets to compare each with each: {large}.")
    lines.append("`cogtally catalog apart FAMILY` names the wheels and gives a key to follow.")
    return lines


def apart_json(catalog: Catalog, families: Iterable[Apart]) -> dict[str, Any]:
    """Return what was found of each family as plain lists, texts and numbers."""
    return {
        "format": screen.FORMAT,
        "catalog": screen.catalog_json(catalog),
        "families": [_family_json(found) for found in families],
    }


def _family_json(found: Apart) -> dict[str, Any]:
    """One family; `key` is null where none was asked for or nothing is to be parted."""
    return {
        **screen.keys_of(found, "family=family.id", "wheels=family.train.wheels"),
        **screen.keys_of(found, "sets", "ratio_only", "too_large=is_too_large"),
        "choices": [
            {
                **screen.keys_of(choice, "differences", "wheels"),
                "instead": dict(zip(choice.wheels, choice.instead, strict=True)),
                **screen.keys_of(choice, "at_least", "exact=is_exact"),
                "falls_short_for": [pair.sets for pair in found.short_of(choice.differences)],
            }
            for choice in found.choices
        ],
        "stay_together": found.together,
        "close": [
            {
                **screen.keys_of(pair, "sets", "differ_in", "gaps"),
                "marks": [
                    {"of": m.owner, "feature": m.feature or None, "values": m.values}
                    for m in pair.marks
                ],
            }
            for pair in found.close
        ],
        "key": None if found.key is None else _key_json(found.key),
    }


def _key_json(key: Key) -> dict[str, Any]:
    """A key as a flat list of nodes, the first one first; `teeth` null: any other count."""
    return {
        "exact": key.is_exact,
        "average": float(key.average),
        "average_ratio": str(key.average),
        "most": key.most,
        "nodes": [
            {
                "wheel": node.wheel,
                "branches": [screen.keys_of(b, "teeth", "sets", "node") for b in node.branches],
            }
            for node in key.nodes
        ],
    }
