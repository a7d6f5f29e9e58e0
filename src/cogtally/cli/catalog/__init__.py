"""`cogtally catalog`: look after the catalog; and what its commands share with others.

What each command does is left to its own room.
"""

from cogtally.cli.catalog.add import add, refuse_demo, say_warnings, show_kept_or_json, whole_text
from cogtally.cli.catalog.book import check, export, import_files, init
from cogtally.cli.catalog.edit import edit, edit_file, kept_beside
from cogtally.cli.catalog.views import apart, find, list_families, show
from cogtally.cli.commands import group
from cogtally.cli.completion import completing

app = group(
    "Look after the catalog.",
    {
        "check": check,
        "apart": apart,
        "init": completing(init),
        "import": completing(import_files),
        "export": export,
        "show": show,
        "list": list_families,
        "find": find,
        "add": add,
        "edit": edit,
    },
)

__all__ = [
    "app",
    "edit_file",
    "kept_beside",
    "refuse_demo",
    "say_warnings",
    "show_kept_or_json",
    "whole_text",
]
