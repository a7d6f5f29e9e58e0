"""`cogtally completion`: words that a shell offers at a press of the tab key.

Which words a catalog has is left to its word file; how a line is read, to `offers`.
"""

from __future__ import annotations

import typer

from cogtally.cli.completion.words import SHELLS
from cogtally.cli.options import argument
from cogtally.gears.errors import UserError

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
        _write_words_of_own_catalog()
        return
    from cogtally.cli.completion.offers import as_replies, offers, split_line

    words, begun = split_line(line)
    found = offers(words, begun)
    for reply in as_replies(found, begun, part) if shell == "bash" else found:
        print(reply)


def _write_words_of_own_catalog() -> None:
    """A catalog from before completion was switched on gets its words now."""
    from cogtally.catalog.words import write_words
    from cogtally.cli.completion.words import offered_words
    from cogtally.cli.places import asked_place
    from cogtally.store import looks_like_book

    try:
        place = asked_place(None, demo=False)
    except UserError:
        return
    if place is not None and looks_like_book(place):
        write_words(place)
    elif place is not None:
        offered_words(place)
