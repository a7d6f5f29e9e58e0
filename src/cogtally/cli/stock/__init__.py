"""`cogtally stock`: the loose pieces, pairs and boxes that are for sale.

What each command does is left to its own room.
"""

from cogtally.cli.commands import group
from cogtally.cli.stock.add import add
from cogtally.cli.stock.edit import edit, remove, sell, take_back
from cogtally.cli.stock.kits import kits, recheck, want
from cogtally.cli.stock.views import export, find, label, list_items, show

app = group(
    "Look after what is for sale.",
    {
        "add": add,
        "list": list_items,
        "show": show,
        "find": find,
        "edit": edit,
        "sell": sell,
        "return": take_back,
        "remove": remove,
        "label": label,
        "kits": kits,
        "want": want,
        "recheck": recheck,
        "export": export,
    },
)

__all__ = ["app"]
