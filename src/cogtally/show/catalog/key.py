"""A key to follow at the bench: as a tree of lines on a screen, as a branching tree on paper.

How the key comes about is left to the catalog, the screen around it to `apart`.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from cogtally.catalog.apart import Branch, Key, Node
from cogtally.catalog.model import Family
from cogtally.show.ratios import decimal
from cogtally.show.screen import CAUTION, DEMO_CAUTION, STRONG, plain, wrapped, written_list

if TYPE_CHECKING:
    from rich.text import Text

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
    most = f"{key.most} {'count' if key.most == 1 else 'counts'}"
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


def key_lines(key: Key, family: Family, width: int) -> list[Text]:
    """Return the heading and the tree, in lines of at most `width` columns.

    A tree too deep for the width goes on in further ones, under their numbers.
    """
    from rich.text import Text

    lines = [Text(line, style=STRONG) for line in wrapped(key_heading(key), width)]
    lines += [Text(line) for line in wrapped(key_words(key), width)]
    return lines + [Text(line) for line in _Tree(key, family, width).lines()]


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
        words = plain(node.wheel)
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
    cautions = [DEMO_CAUTION] if demo else []
    said = [(family.title, 1.5 * TREE, True), (key_heading(key), TREE, True)]
    for text, size, bold in (*said, (key_words(key), TREE, False)):
        lines, y = paragraph(plain(text), MARGIN, width - MARGIN, y, size, bold=bold)
        items += lines
        y += 0.4 * size
    items.append(Group("key", placed(tree, MARGIN - box.left, y + 2.0 - box.top)))
    y += 2.0 + box.height + 4.0
    for text in (*cautions, CAUTION):
        lines, y = paragraph(text, MARGIN, width - MARGIN, y, 0.85 * TREE, colour=GREY)
        items += lines
    about = " ".join(_Tree(key, family, 1000).lines())
    title = f"{plain(family.title)}: a key to follow"
    return Drawing((Page(width, y + MARGIN, tuple(items)),), title, about)


def _sets_of(branch: Branch, titles: dict[str, str]) -> str:
    """The sets at an end: one with its title, several that no count parts by their ids."""
    if len(branch.sets) > 1:
        return written_list(map(plain, branch.sets), "or")
    known = branch.sets[0]
    return plain(known) + (f" ({plain(titles[known])})" if titles[known] != known else "")


class _Tree:
    """The lines of a key, and the parts of it that have to go on further down."""

    def __init__(self, key: Key, family: Family, width: int) -> None:
        self.key = key
        self.titles = {known.id: known.title for known in family.sets}
        self.width = width
        self.later: deque[int] = deque([0])
        self.numbers: dict[int, int] = {0: 1}

    def lines(self) -> list[str]:
        """Return the whole tree, the parts that go on further down after it."""
        found: list[str] = []
        while self.later:
            number = self.later.popleft()
            node = self.key.nodes[number]
            mark = f"{self.numbers[number]}: " if self.numbers[number] > 1 else ""
            found.append(f"{mark}Count {plain(node.wheel)}")
            found += self._below(node, 2)
        return found

    def _below(self, node: Node, indent: int) -> list[str]:
        names = [ANY_OTHER if b.teeth is None else str(b.teeth) for b in node.branches]
        column = max(map(len, names))
        found: list[str] = []
        for name, branch in zip(names, node.branches, strict=True):
            head = " " * indent + f"{name:>{column}}  "
            if branch.node is None:
                text = wrapped(_sets_of(branch, self.titles), self.width - len(head), 2)
                found.append(head + text[0])
                found += [" " * len(head) + more for more in text[1:]]
            elif len(head) > WIDEST_INDENT * self.width:
                found.append(f"{head}go on at {self._number_of(branch.node)}")
            else:
                following = self.key.nodes[branch.node]
                found.append(f"{head}count {plain(following.wheel)}")
                found += self._below(following, len(head))
        return found

    def _number_of(self, node: int) -> int:
        self.later.append(node)
        return self.numbers.setdefault(node, len(self.numbers) + 1)
