"""Options that several commands have, each written once.

What a command does with them is left to the command.
"""

from __future__ import annotations

from typing import Annotated

import typer

#: A catalog to be read: a book, a file or a folder.
CatalogOption = Annotated[
    str | None,
    typer.Option(
        "--catalog",
        metavar="PATH",
        help="A book, a file or a folder. Else COGTALLY_CATALOG, else your own book.",
    ),
]
#: A book to be written.
BookOption = Annotated[
    str | None,
    typer.Option(
        "--catalog", metavar="BOOK", help="A book. Else COGTALLY_CATALOG, else your own book."
    ),
]
DemoOption = Annotated[bool, typer.Option("--demo", help="Ask the invented demo catalog.")]
#: --demo where a book is written: understood, so that it can be refused.
NoDemoOption = Annotated[bool, typer.Option("--demo", hidden=True)]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON.")]
