"""A page of the guide on a terminal: Markdown as wrapped plain text, examples as they stand.

Which pages there are is left to `guide`. Of Markdown it knows what the pages use: headings,
paragraphs, lists, tables, fenced and indented text.
"""

import re
from collections.abc import Iterator, Mapping

from rich.console import Console
from rich.text import Text

from cogtally.guide import Page
from cogtally.show.screen import DIM, STRONG, say, wrapped

_INDENT = 2
_LIST = re.compile(r"(?:[-*]|\d+\.) ")
_LINK = re.compile(r"\[([^\]]+)\]\([^)]+\)")
_MARKED = re.compile(r"\*\*|`")


def show_pages(pages: Mapping[str, str], console: Console) -> None:
    """Print the names of all pages with what each is about, and how to read one."""
    widest = max(map(len, pages))
    for name, about in pages.items():
        lines = wrapped(about, console.width - widest - 2)
        for place, line in enumerate(lines):
            console.print(
                Text.assemble((f"{name if not place else '':{widest}}  ", STRONG), line),
                soft_wrap=True,
            )
    console.print()
    say(console, "'cogtally guide PAGE' shows one of them.", DIM)


def show_page(page: Page, console: Console) -> None:
    """Print one page, wrapped to the console's width; examples are never wrapped."""
    for line in page_lines(page.text, console.width):
        console.print(line, soft_wrap=True)


def page_lines(text: str, width: int) -> Iterator[Text]:
    """Return the lines of a page, of at most `width` columns but for examples."""
    lines = text.rstrip().split("\n")
    at = 0
    while at < len(lines):
        line = lines[at]
        end = at + 1
        if line.startswith("```"):
            while not lines[end].startswith("```"):
                end += 1
            yield from (Text((" " * _INDENT + each).rstrip()) for each in lines[at + 1 : end])
            end += 1
        elif line.startswith("    "):
            yield Text(line)
        elif line.startswith("#"):
            yield Text(_plain(line.lstrip("# ")), style=STRONG)
        elif line.startswith("|"):
            while end < len(lines) and lines[end].startswith("|"):
                end += 1
            yield from _table(lines[at:end], width)
        elif not line.strip():
            yield Text()
        else:
            while end < len(lines) and _goes_on(lines[end]):
                end += 1
            hanging = 2 if _LIST.match(line) else 0
            said = " ".join(each.strip() for each in lines[at:end])
            yield from (Text(each) for each in wrapped(_plain(said), width, hanging))
        at = end


def _goes_on(line: str) -> bool:
    """Tell whether a line belongs to the paragraph or the point of a list before it."""
    ends = ("#", "|", "```")
    return bool(line.strip()) and not line.startswith(ends) and not _LIST.match(line)


def _plain(text: str) -> str:
    return _MARKED.sub("", _LINK.sub(r"\1", text))


def _table(lines: list[str], width: int) -> Iterator[Text]:
    """The rows of a table: side by side where they fit, else each under its first cell."""
    rows = [
        [_plain(cell.replace(r"\|", "|")).strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        for line in lines
        if set(line) - set("|-: ")
    ]
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    if sum(widths) + 2 * (len(widths) - 1) <= width:
        for number, row in enumerate(rows):
            cells = (f"{cell:{wide}}" for cell, wide in zip(row, widths, strict=True))
            yield Text("  ".join(cells).rstrip(), style=DIM if not number else "")
        return
    for first, *rest in rows[1:]:
        yield Text(first, style=STRONG)
        for cell in filter(None, rest):
            for line in wrapped(cell, width - _INDENT):
                yield Text(" " * _INDENT + line)
