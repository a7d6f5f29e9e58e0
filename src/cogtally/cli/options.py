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

#: What was looked at besides teeth: of a box with the piece or wheel, of a loose piece without.
MarkOption = Annotated[
    list[str] | None,
    typer.Option(
        "--mark",
        metavar="PIECE:MARK",
        help="What is read of a mark: 'laygear:LG 3?02', ? for a character that cannot be read, "
        "* for any number. May be given again.",
    ),
]
FeatureOption = Annotated[
    list[str] | None,
    typer.Option(
        "--feature",
        metavar="OF.FEATURE=VALUE",
        help="What was looked at: laygear.splines=10, 3.driver.hand=left, 1-gear.od_mm=94.2, "
        "94.2u where unsure. May be given again.",
    ),
]
LooseMarkOption = Annotated[
    list[str] | None,
    typer.Option(
        "--mark",
        metavar="MARK",
        help="What is read of a mark on it: 'LG 3?02', ? for a character that cannot be read, "
        "* for any number. May be given again.",
    ),
]
LooseFeatureOption = Annotated[
    list[str] | None,
    typer.Option(
        "--feature",
        metavar="FEATURE=VALUE",
        help="What was looked at: splines=10, bore_mm=19.05, of the wheel at place 2 2.hand=left. "
        "May be given again.",
    ),
]

#: Many items at once: where they are read from, and where the answers go.
FromOption = Annotated[
    str | None,
    typer.Option(
        "--from",
        metavar="FILE.csv",
        help="Many at once: a row an item, an answer a row. - is standard input.",
    ),
]
OutOption = Annotated[
    str | None,
    typer.Option(
        metavar="FILE",
        help="With --from: write the answers to a .csv or .jsonl file, not to the screen.",
    ),
]
ResumeOption = Annotated[
    bool,
    typer.Option("--resume", help="With --out: go on behind the last answer in that file."),
]

#: A picture of the train, and the gear whose way of power stands out in it.
PictureOption = Annotated[
    str | None,
    typer.Option("--picture", metavar="FILE", help="Draw the train too: .svg, .png or .pdf."),
]
GearOption = Annotated[
    str | None,
    typer.Option(
        "--gear",
        metavar="GEAR",
        help="With --picture: show the power in this gear; all: in every gear, side by side.",
    ),
]
#: Of every file that is written: what stands there already is kept unless this says otherwise.
ForceOption = Annotated[
    bool, typer.Option("--force", help="Write over a file that is there already.")
]
OutlinesOption = Annotated[
    bool,
    typer.Option(
        "--outlines", help="Letters of an .svg as shapes, alike in every program, with no font."
    ),
]

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
