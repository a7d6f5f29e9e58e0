"""`cogtally log [NUMBER]` and `cogtally undo [NUMBER]`: what was changed, and taking it back.

What the log holds and what can be taken back is left to the store, its look to `show`.
"""

from cogtally.cli import options
from cogtally.cli.completion import completing
from cogtally.cli.known import asked_book
from cogtally.cli.options import argument
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError, shown
from cogtally.show.screen import show_or_json

#: A greater number is no entry of any log.
_MOST_DIGITS = 15


def log(
    number: str | None = argument("NUMBER", "One entry, with what it changed."),
    catalog: str | None = options.BOOK,
    as_json: bool = options.JSON,
) -> None:
    """Show what was changed in the book, and when. The newest comes first.

    Of one entry: all that it changed, and whether it can be taken back.
    """
    from cogtally.show.log import entry_json, log_json, show_entry, show_log
    from cogtally.store import entries, entry_of

    path = asked_book(catalog, there=True)
    if number is None:
        found = entries(path)
        show_or_json(as_json, lambda: log_json(found), lambda console: show_log(found, console))
        return
    told = entry_of(path, _number(number))
    show_or_json(as_json, lambda: entry_json(*told), lambda console: show_entry(*told, console))


def _undo(
    number: str | None = argument("NUMBER", "An entry of the log. Else the last change."),
    catalog: str | None = options.BOOK,
    as_json: bool = options.JSON,
) -> None:
    """Take a change of the book back.

    An earlier one, by its number in the log, while nothing later touched the same rows.
    """
    from cogtally.show.log import entry_json, show_undone
    from cogtally.store import undo as take_back

    path = asked_book(catalog, there=True)
    entry, changes = take_back(path, None if number is None else _number(number))
    now_written(f"this change was taken back: {entry.what}")
    show_or_json(
        as_json,
        lambda: entry_json(entry, changes, "it was taken back"),
        lambda console: show_undone(entry, changes, console),
    )


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS):
        mend = "'cogtally log' lists them"
        raise UserError("this is no number of an entry", shown(text), mend)
    return int(text)


undo = completing(_undo)
