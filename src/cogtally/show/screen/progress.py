"""A bar on standard error that says how far a long job has come.

Whether there is a terminal to draw on is asked here; the job itself is left to whoever runs it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(what: str, *, left: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Show a bar for `what` on standard error; call what is given with (done, of all);
    until then the bar only says that something is under way. `left`: the time left is shown too.

    Where standard error is no terminal nothing is drawn. The bar goes away at the end.
    """
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from cogtally.show.screen.console import console_for

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.fields[share]}", markup=False),
        *([TimeRemainingColumn()] if left else []),
    )
    # Answers may go to standard output meanwhile; they are no part of the bar.
    screen = console_for(sys.stderr)
    with Progress(*columns, console=screen, transient=True, redirect_stdout=False) as bar:
        task = bar.add_task(what, total=None, share="")

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, share=f"{100 * done // total} %")

        yield advance
