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

#: What a command without a catalog is told of a box, and how its pairs are arranged.
CountedArgument = Annotated[
    list[str] | None,
    typer.Argument(metavar="SEEN…", help="What was counted: input=17/28 1=14/31 R=12/20/28."),
]
LayoutOption = Annotated[
    str | None,
    typer.Option(
        metavar="LAYOUT",
        help="layshaft, sleeve, two-shaft or axle. If not given: layshaft where input is "
        "written, sleeve where output is, axle where final alone is, else two-shaft.",
    ),
]
DirectOption = Annotated[
    str | None, typer.Option(metavar="GEAR", help="The gear that locks input to output.")
]
PathOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="GEAR=PAIR,PAIR",
        help="The pairs that a gear runs through, R=input,R1,R2. May be given again.",
    ),
]
