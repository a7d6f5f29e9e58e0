"""A key to follow at the bench, as a tree of lines.

How the key comes about is left to the catalog, the screen around it to `apart`.
"""

from __future__ import annotations

from collections import deque

from rich.text import Text

from cogtally.catalog.apart.key import Branch, Key, Node
from cogtally.catalog.model import Family
from cogtally.show.ratios import decimal
from cogtally.show.screen import STRONG, plain, wrapped, written_list

ANY_OTHER = "other"
AVERAGE_PLACES = 1
#: A branch that would begin further right than this share of the width goes on further down.
WIDEST_INDENT = 0.5


def key_lines(key: Key, family: Family, width: int) -> list[Text]:
    """Return the heading and the tree, in lines of at most `width` columns.

    A tree too deep for the width goes on in further ones, under their numbers.
    """
    average = decimal(key.average, AVERAGE_PLACES)
    most = f"{key.most} {'count' if key.most == 1 else 'counts'}"
    head = f"A key to follow: {most} at most, {average} on average"
    lines = [Text(line, style=STRONG) for line in wrapped(head, width)]
    lines += [Text(line) for line in wrapped(_how_short(key), width)]
    return lines + _Tree(key, family, width).lines()


def _how_short(key: Key) -> str:
    """What the average is of, what is known of it, and what a strange count means."""
    short = (
        "No key has fewer on average, the sets weighed by commonness."
        if key.is_exact
        else "Each wheel is the one that tells most by itself, the sets weighed by commonness; the "
        "family is too large to find the shortest key."
    )
    return f"{short} A count that is not listed: none of these sets, or count again."


class _Tree:
    """The lines of a key, and the parts of it that have to go on further down."""

    def __init__(self, key: Key, family: Family, width: int) -> None:
        self.key = key
        self.titles = {known.id: known.title for known in family.sets}
        self.width = width
        self.later: deque[int] = deque([0])
        self.numbers: dict[int, int] = {0: 1}

    def lines(self) -> list[Text]:
        """Return the whole tree, the parts that go on further down after it."""
        found: list[Text] = []
        while self.later:
            number = self.later.popleft()
            node = self.key.nodes[number]
            mark = f"{self.numbers[number]}: " if self.numbers[number] > 1 else ""
            found.append(Text(f"{mark}Count {plain(node.wheel)}"))
            found += self._below(node, 2)
        return found

    def _below(self, node: Node, indent: int) -> list[Text]:
        names = [ANY_OTHER if b.teeth is None else str(b.teeth) for b in node.branches]
        column = max(map(len, names))
        found: list[Text] = []
        for name, branch in zip(names, node.branches, strict=True):
            head = " " * indent + f"{name:>{column}}  "
            if branch.node is None:
                text = wrapped(self._sets(branch), self.width - len(head), 2)
                found.append(Text(head + text[0]))
                found += [Text(" " * len(head) + more) for more in text[1:]]
            elif len(head) > WIDEST_INDENT * self.width:
                found.append(Text(f"{head}go on at {self._number_of(branch.node)}"))
            else:
                following = self.key.nodes[branch.node]
                found.append(Text(f"{head}count {plain(following.wheel)}"))
                found += self._below(following, len(head))
        return found

    def _number_of(self, node: int) -> int:
        self.later.append(node)
        return self.numbers.setdefault(node, len(self.numbers) + 1)

    def _sets(self, branch: Branch) -> str:
        """The sets at an end: one with its title, several that no count parts by their ids."""
        if len(branch.sets) > 1:
            return written_list(map(plain, branch.sets), "or")
        known = branch.sets[0]
        title = self.titles[known]
        return plain(known) + (f" ({plain(title)})" if title != known else "")
