"""Options that several commands have, each written once.

What a command does with them is left to the command. Options of text take it as it was typed.
"""

from typing import Any

import typer


def option(metavar: str, text: str, *names: str, default: str | None = None) -> Any:
    """Return an option with a value; `text` is its help.

    It is called as its parameter is, or by `names`.
    """
    return typer.Option(default, *names, metavar=metavar, help=text)


def argument(metavar: str, text: str) -> Any:
    """Return an argument, which may be left out; `text` is its help."""
    return typer.Argument(None, metavar=metavar, help=text)


def flag(name: str, text: str = "", *, hidden: bool = False) -> Any:
    """Return an option without a value; `text` is its help."""
    return typer.Option(False, name, help=text, hidden=hidden)


#: A catalog to be read: a book, a file or a folder.
CATALOG: Any = option(
    "PATH", "A book, a file or a folder. Else COGTALLY_CATALOG, else your own book.", "--catalog"
)
#: A book to be written.
BOOK: Any = option("BOOK", "A book. Else COGTALLY_CATALOG, else your own book.", "--catalog")
DEMO: Any = flag("--demo", "Ask the invented demo catalog.")
#: --demo where a book is written: understood, so that it can be refused.
NO_DEMO: Any = flag("--demo", hidden=True)
JSON: Any = flag("--json", "Print JSON.")

FAMILY: Any = option("FAMILY", "Ask about this family only.")
DRY_RUN: Any = flag("--dry-run", "Show what would change, and write nothing.")

#: What was looked at besides teeth: of a box with the piece or wheel, of a loose piece without.
_UNREAD = "? for a character that cannot be read, * for any number. May be given again."
MARK: Any = option("PIECE:MARK", f"What is read of a mark: 'laygear:LG 3?02', {_UNREAD}", "--mark")
FEATURE: Any = option(
    "OF.FEATURE=VALUE",
    "What was looked at: laygear.splines=10, 3.driver.hand=left, 1-gear.od_mm=94.2, 94.2u where "
    "unsure. May be given again.",
    "--feature",
)
LOOSE_MARK: Any = option("MARK", f"What is read of a mark on it: 'LG 3?02', {_UNREAD}", "--mark")
LOOSE_FEATURE: Any = option(
    "FEATURE=VALUE",
    "What was looked at: splines=10, bore_mm=19.05, of the wheel at place 2 2.hand=left. May be "
    "given again.",
    "--feature",
)

#: Many items at once: where they are read from, and where the answers go.
FROM: Any = option(
    "FILE.csv", "Many at once: a row an item, an answer a row. - is standard input.", "--from"
)
OUT: Any = option(
    "FILE", "With --from: write the answers to a .csv or .jsonl file, not to the screen."
)
RESUME: Any = flag("--resume", "With --out: go on behind the last answer in that file.")

#: A picture of the train, and the gear whose way of power stands out in it.
PICTURE: Any = option("FILE", "Draw the train too: .svg, .png or .pdf.", "--picture")
GEAR: Any = option(
    "GEAR",
    "With --picture: show the power in this gear; all: in every gear, side by side.",
    "--gear",
)
#: Of every file that is written: what stands there already is kept unless this says otherwise.
FORCE: Any = flag("--force", "Write over a file that is there already.")
OUTLINES: Any = flag(
    "--outlines", "Letters of an .svg as shapes, alike in every program, with no font."
)

#: What a command without a catalog is told of a box, and how its pairs are arranged.
COUNTED: Any = argument("SEEN…", "What was counted: input=17/28 1=14/31 R=12/20/28.")
LAYOUT: Any = option(
    "LAYOUT",
    "layshaft, sleeve, two-shaft or axle. If not given: layshaft where input is written, sleeve "
    "where output is, axle where final alone is, else two-shaft.",
)
DIRECT: Any = option("GEAR", "The gear that locks input to output.")
PATH: Any = option(
    "GEAR=PAIR,PAIR", "The pairs that a gear runs through, R=input,R1,R2. May be given again."
)

#: What is kept of an item of the stock, and which items are asked for.
PLACE: Any = option("TEXT", "Where it stands.")
PRICE: Any = option("AMOUNT", "The price, for example 45 or 45.50.")
CURRENCY: Any = option("ABC", "Its three letters. If not given: that of the last price.")
CONDITION: Any = option("TEXT", "How worn it is.")
PHOTO: Any = option("FILE", "A picture of it.")
NOTE: Any = option("TEXT", "Anything else.")
ITEM_MARK: Any = option(
    "TEXT",
    "What is stamped or cast on it, ? for a character that cannot be read; of a box PIECE:TEXT. "
    "May be given again.",
)
ITEM_FEATURE: Any = option(
    "NAME=VALUE", "splines=10, of a box laygear.splines=10. May be given again."
)
ITEM: Any = argument("ITEM", "Its number.")
SOLD: Any = flag("--sold", "What was sold, instead.")
ALL: Any = flag("--all", "What was sold too.")
