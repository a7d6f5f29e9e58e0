"""`cogtally completion`: the words that a shell offers at a press of the tab key.

Those of a book are written anew after every command that changes it, those of catalog files where
they are old. What the words are is left to the catalog, what the commands are to `commands`, the
numbers of the stock to the store. What a place takes is told by its metavar: FAMILY, FAMILY/SET,
SEEN, GEAR, LAYOUT, ITEM.
"""

import shlex
from collections.abc import Callable, Iterable, Sequence
from functools import wraps
from pathlib import Path
from typing import Any

import typer
from typer.main import get_command

from cogtally.catalog import words as catalog_words
from cogtally.cli.known import are_many_bytes, asked_book, asked_place, words_kept_at
from cogtally.cli.options import argument
from cogtally.gears.errors import UserError
from cogtally.gears.trains import FAMILY_LAYOUTS
from cogtally.store import check_head, latest, looks_like_book, reading

#: The shells that words are completed in.
SHELLS = ("bash", "zsh", "fish")


def completing(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command that, done without an error, writes the words of the book it changed.

    The command has the option `catalog`, the book as typed.
    """

    @wraps(command)
    def then_words(**given: Any) -> None:
        command(**given)
        book = asked_book(given.get("catalog"))
        if book.exists():
            catalog_words.write_words(book)

    return then_words


def offered_words(place: Path) -> catalog_words.Words:
    """Return the words of the catalog at a place, written anew first where that is soon done."""
    if looks_like_book(place):
        return catalog_words.read_words(place)
    many = are_many_bytes(place)
    if many is None:
        return catalog_words.Words()
    kept = words_kept_at(place)
    found = catalog_words.read_words_of_files(place, kept)
    if found is not None or many:
        return found or catalog_words.Words()
    return catalog_words.write_words_of_files(place, kept)


#: So many words are offered at most; a list of thousands helps nobody.
MOST_OFFERED = 200
#: The shell bash parts words at these, and takes only the last part back.
_PARTED_AT = "=:@"
#: How the metavars begin that words of the catalog can stand for.
_OF_CATALOG = ("FAMILY", "SEEN", "COUNTS", "GEAR")
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
        if not names:
            break
        at = next((n for n, word in enumerate(given) if not word.startswith("-")), None)
        if at is None:
            return _fitting([*names, *_options(command, begun)], begun)
        command = command.get_command(context, given[at])
        if command is None:
            return []
        given = given[at + 1 :]
    return _fitting(_of_command(command, given, begun), begun)


def as_replies(found: Iterable[str], begun: str, part: str | None) -> list[str]:
    """Return words as bash takes them: without what stands before the part that it replaces."""
    own = begun if part is None else part
    if own in tuple(_PARTED_AT):
        own = ""
    known = len(begun) - len(own) if begun.endswith(own) else 0
    return [word[known:] for word in found]


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
    if kind in ("LAYOUT", "SHELL"):
        return list(FAMILY_LAYOUTS if kind == "LAYOUT" else SHELLS)
    if not kind.startswith(_OF_CATALOG):
        return []
    place = _place(named)
    words = catalog_words.Words() if place is None else offered_words(place)
    return _of_catalog(kind, words, named)


def _place(named: dict[str, str]) -> Path | None:
    try:
        return asked_place(named.get("--catalog"), demo=False)
    except UserError:
        return None


def _items(named: dict[str, str]) -> list[str]:
    """The numbers in the stock, the newest first."""
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


def _of_catalog(kind: str, words: catalog_words.Words, named: dict[str, str]) -> list[str]:
    """What of a catalog's words stands at a place of this kind."""
    sets = [f"{family}/{known}" for family, sets in words.sets.items() for known in sets]
    # Pairs to be counted, `1=`, and gears to be turned, `1@`, are of one family where it is named.
    only = named.get("--family") or named.get("--expect", "").partition("/")[0]
    pairs = {f: [f"{pair}=" for pair in pairs] for f, pairs in words.pairs.items()}
    gears = [gear for gears in words.gears.values() for gear in gears]
    counted = [pair for family, of in pairs.items() if only in ("", family) for pair in of]
    turned = [f"{g}@" for family, of in words.gears.items() if only in ("", family) for g in of]
    offered = {
        "FAMILY": list(words.sets),
        "FAMILY/": [f"{family}/" for family in words.sets],
        "FAMILY/SET": sets,
        "FAMILY[/SET": [*words.sets, *sets],
        "SEEN": [*counted, *turned],
        "COUNTS": [pair for found in pairs.values() for pair in found],
        "GEAR": gears,
        "GEAR=RATIO": [f"{gear}=" for gear in gears],
    }
    return offered.get(kind, [])


def _fitting(found: Iterable[str], begun: str) -> list[str]:
    """Those that begin so, each once; whatever a terminal would obey is never offered."""
    kept = [
        word
        for word in dict.fromkeys(found)
        if word.startswith(begun) and word != begun and word.isprintable()
    ]
    return kept[:MOST_OFFERED]


_BASH = """\
# cogtally: completion for bash. Put into ~/.bashrc:  eval "$(cogtally completion bash)"
_cogtally() {
    local IFS=$'\\n'
    COMPREPLY=($(cogtally completion bash --line="${COMP_LINE:0:COMP_POINT}" \\
        --part="${COMP_WORDS[COMP_CWORD]}" 2>/dev/null))
    if [[ ${#COMPREPLY[@]} -gt 0 && ${COMPREPLY[0]} == *[=@/] ]]; then
        compopt -o nospace 2>/dev/null
    fi
}
complete -o default -o bashdefault -F _cogtally cogtally
"""

_ZSH = """\
# cogtally: completion for zsh. Put into ~/.zshrc, below compinit:
#   eval "$(cogtally completion zsh)"
_cogtally() {
    local -a found open closed
    found=("${(@f)$(cogtally completion zsh --line="${(j: :)words[1,CURRENT]}" 2>/dev/null)}")
    closed=(${found:#*[=@/]})
    open=(${(M)found:#*[=@/]})
    (( $#closed )) && compadd -U -- $closed
    (( $#open )) && compadd -U -S '' -- $open
    (( $#closed + $#open )) || _files
}
compdef _cogtally cogtally
"""

_FISH = """\
# cogtally: completion for fish. Put into ~/.config/fish/config.fish:
#   cogtally completion fish | source
complete -c cogtally -a '(cogtally completion fish --line=(commandline -cp) 2>/dev/null)'
"""

_SCRIPTS = {"bash": _BASH, "zsh": _ZSH, "fish": _FISH}


def completion(
    shell: str | None = argument("SHELL", ", ".join(SHELLS)),
    line: str | None = typer.Option(None, "--line", hidden=True),
    part: str | None = typer.Option(None, "--part", hidden=True),
) -> None:
    """Print what completes words in your shell.

    Options, families, sets, gears and pairs are offered. Switch it on with one line in the shell's
    own settings. bash, in ~/.bashrc: eval "$(cogtally completion bash)". zsh, in ~/.zshrc below
    compinit: eval "$(cogtally completion zsh)". fish, in config.fish: cogtally completion fish |
    source.
    """
    if shell not in SHELLS:
        mend = f"write one of {', '.join(SHELLS)}"
        if shell is None:
            raise UserError("SHELL is missing", "cogtally completion", mend)
        raise UserError("no shell of that name is known", shell, mend)
    if line is None:
        print(_SCRIPTS[shell], end="")
        # A catalog from before completion was switched on gets its words now.
        place = _place({})
        if place is not None:
            (catalog_words.write_words if looks_like_book(place) else offered_words)(place)
        return
    words, begun = split_line(line)
    found = offers(words, begun)
    for reply in as_replies(found, begun, part) if shell == "bash" else found:
        print(reply)
