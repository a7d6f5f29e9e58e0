"""What may stand next in a command line that is being typed.

What the commands are is left to `commands`, the words of the catalog to its word file, the numbers
of the stock to the shelf. What a place takes is told by its metavar: FAMILY, FAMILY/SET, SEEN,
GEAR, LAYOUT, ITEM.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from typer.main import get_command

from cogtally.catalog.words import Words
from cogtally.cli.completion.words import SHELLS

#: So many words are offered at most; a list of thousands helps nobody.
MOST_OFFERED = 200
#: The shell bash parts words at these, and takes only the last part back.
_PARTED_AT = "=:@"
#: Parameters for a set that is not there yet: its family is all that can be offered.
_NEW_SETS = ("name_of_set", "keep_as")


def split_line(line: str) -> tuple[list[str], str]:
    """Return the whole words of a line that is being typed, and the one that is begun."""
    begun = "" if not line or line[-1].isspace() else None
    try:
        words = shlex.split(line)
    except ValueError:
        words = line.split()
    if begun is None:
        begun = words.pop() if words else ""
    return words[1:], begun


def offers(words: Sequence[str], begun: str) -> list[str]:
    """Return what may stand where `begun` is, behind `words`; empty where nothing fits."""
    from cogtally.cli.commands import app

    command: Any = get_command(app)
    context: Any = None
    given = list(words)
    while True:
        context = command.context_class(command, parent=context, info_name=command.name)
        names = command.list_commands(context) if hasattr(command, "list_commands") else []
        place, rest = _first_word(given)
        if not names:
            break
        if place is None:
            return _fitting([*names, *_options(command, begun)], begun)
        command = command.get_command(context, place)
        if command is None:
            return []
        given = rest
    return _fitting(_of_command(command, given, begun), begun)


def as_replies(found: Iterable[str], begun: str, part: str | None) -> list[str]:
    """Return words as bash takes them: without what stands before the part that it replaces."""
    own = begun if part is None else part
    if own in tuple(_PARTED_AT):
        own = ""
    known = len(begun) - len(own) if begun.endswith(own) else 0
    return [word[known:] for word in found]


def _first_word(words: list[str]) -> tuple[str | None, list[str]]:
    """The first word that is no option, and what stands behind it."""
    for number, word in enumerate(words):
        if not word.startswith("-"):
            return word, words[number + 1 :]
    return None, []


def _options(command: Any, begun: str) -> list[str]:
    if not begun.startswith("-"):
        return []
    return [
        name
        for param in command.params
        for name in param.opts
        if name.startswith("--") and not getattr(param, "hidden", False)
    ]


def _of_command(command: Any, given: Sequence[str], begun: str) -> list[str]:
    """What a command takes at this place: the value of an option, an option, or an argument."""
    takes = {
        name: param
        for param in command.params
        for name in param.opts
        if name.startswith("-") and not getattr(param, "is_flag", False)
    }
    arguments = [param for param in command.params if not param.opts[0].startswith("-")]
    named: dict[str, str] = {}
    waiting: str | None = None
    placed = 0
    for word in given:
        option, equals, value = word.partition("=")
        if waiting is not None:
            named[waiting] = word
            waiting = None
        elif word.startswith("--") and equals:
            named[option] = value
        elif word in takes:
            waiting = word
        elif not word.startswith("-"):
            placed += 1
    if waiting is not None:
        return _values(takes[waiting], named)
    option, equals, _ = begun.partition("=")
    if begun.startswith("--") and equals and option in takes:
        return [f"{option}={value}" for value in _values(takes[option], named)]
    if begun.startswith("-"):
        return _options(command, begun)
    if not arguments:
        return []
    at = arguments[min(placed, len(arguments) - 1)]
    if placed >= len(arguments) and at.nargs != -1:
        return []
    return _values(at, named)


def _values(param: Any, named: dict[str, str]) -> list[str]:
    kind = str(param.metavar or "").strip("…[]")
    if param.name in _NEW_SETS:
        kind = "FAMILY/"
    if kind == "ITEM":
        return _items(named)
    maker = _KINDS.get(kind)
    return [] if maker is None else maker(_words(named), named)


def _place(named: dict[str, str]) -> Path | None:
    from cogtally.cli.places import asked_place
    from cogtally.gears.errors import UserError

    try:
        return asked_place(named.get("--catalog"), demo=False)
    except UserError:
        return None


def _words(named: dict[str, str]) -> Words:
    from cogtally.cli.completion.words import offered_words

    place = _place(named)
    return Words() if place is None else offered_words(place)


def _items(named: dict[str, str]) -> list[str]:
    """The numbers in the stock, the newest first."""
    from cogtally.gears.errors import UserError
    from cogtally.store import check_head, latest, reading

    place = _place(named)
    try:
        # A book of an older version is not brought up to date behind somebody's back.
        if place is None or check_head(place) < latest():
            return []
        with reading(place) as book:
            rows = book.execute("SELECT id FROM items ORDER BY id DESC").fetchall()
    except UserError:
        return []
    return [str(row[0]) for row in rows]


def _families(words: Words, named: dict[str, str]) -> list[str]:
    return list(words.sets)


def _families_open(words: Words, named: dict[str, str]) -> list[str]:
    return [f"{family}/" for family in words.sets]


def _sets(words: Words, named: dict[str, str]) -> list[str]:
    return [f"{family}/{known}" for family, sets in words.sets.items() for known in sets]


def _families_and_sets(words: Words, named: dict[str, str]) -> list[str]:
    return [*_families(words, named), *_sets(words, named)]


def _seen(words: Words, named: dict[str, str]) -> list[str]:
    """Pairs to be counted, `1=`, and gears to be turned, `1@`; of one family where it is named."""
    only = named.get("--family") or named.get("--expect", "").partition("/")[0]
    pairs = [p for family, pairs in words.pairs.items() if only in ("", family) for p in pairs]
    return [*(f"{pair}=" for pair in pairs), *(f"{gear}@" for gear in _gears_of(words, only))]


def _counts(words: Words, named: dict[str, str]) -> list[str]:
    return [f"{pair}=" for pairs in words.pairs.values() for pair in pairs]


def _gears(words: Words, named: dict[str, str]) -> list[str]:
    return _gears_of(words, "")


def _gears_of(words: Words, only: str) -> list[str]:
    return [g for family, gears in words.gears.items() if only in ("", family) for g in gears]


def _ratios(words: Words, named: dict[str, str]) -> list[str]:
    return [f"{gear}=" for gear in _gears(words, named)]


def _layouts(words: Words, named: dict[str, str]) -> list[str]:
    from cogtally.gears.trains import FAMILY_LAYOUTS

    return list(FAMILY_LAYOUTS)


def _shells(words: Words, named: dict[str, str]) -> list[str]:

    return list(SHELLS)


_KINDS: dict[str, Callable[[Words, dict[str, str]], list[str]]] = {
    "FAMILY": _families,
    "FAMILY/": _families_open,
    "FAMILY/SET": _sets,
    "FAMILY[/SET": _families_and_sets,
    "SEEN": _seen,
    "COUNTS": _counts,
    "GEAR": _gears,
    "GEAR=RATIO": _ratios,
    "LAYOUT": _layouts,
    "SHELL": _shells,
}


def _fitting(found: Iterable[str], begun: str) -> list[str]:
    """Those that begin so, each once; whatever a terminal would obey is never offered."""
    kept = [
        word
        for word in dict.fromkeys(found)
        if word.startswith(begun) and word != begun and word.isprintable()
    ]
    return kept[:MOST_OFFERED]
