"""`cogtally stock`: the loose pieces, pairs and boxes that are for sale.

What each command does is left to its own room.
"""

from __future__ import annotations

import typer

from cogtally.cli.commands import CONTEXT
from cogtally.cli.lean import LeanCommand, LeanGroup
from cogtally.cli.stock import edit as stock_edit
from cogtally.cli.stock import views as stock_views
from cogtally.cli.stock.add import add
from cogtally.cli.stock.kits import kits, want
from cogtally.cli.stock.recheck import recheck
from cogtally.cli.stock.views import label

app = typer.Typer(
    cls=LeanGroup,
    add_completion=False,
    rich_markup_mode=None,
    context_settings=CONTEXT,
    help="Look after what is for sale.",
)


@app.callback(invoke_without_command=True)
def stock(context: typer.Context) -> None:
    """Look after what is for sale."""
    if context.invoked_subcommand is None:
        print(context.get_help())


app.command("add", cls=LeanCommand, context_settings=CONTEXT)(add)
app.command("list", cls=LeanCommand, context_settings=CONTEXT)(stock_views.list_items)
app.command("show", cls=LeanCommand, context_settings=CONTEXT)(stock_views.show)
app.command("find", cls=LeanCommand, context_settings=CONTEXT)(stock_views.find)
app.command("edit", cls=LeanCommand, context_settings=CONTEXT)(stock_edit.edit)
app.command("sell", cls=LeanCommand, context_settings=CONTEXT)(stock_edit.sell)
app.command("return", cls=LeanCommand, context_settings=CONTEXT)(stock_edit.take_back)
app.command("remove", cls=LeanCommand, context_settings=CONTEXT)(stock_edit.remove)
app.command("label", cls=LeanCommand, context_settings=CONTEXT)(label)
app.command("kits", cls=LeanCommand, context_settings=CONTEXT)(kits)
app.command("want", cls=LeanCommand, context_settings=CONTEXT)(want)
app.command("recheck", cls=LeanCommand, context_settings=CONTEXT)(recheck)
app.command("export", cls=LeanCommand, context_settings=CONTEXT)(stock_views.export)

__all__ = ["app"]
