"""The pages of the guide, as they ship with the program: which there are, and their text.

How a page looks on a terminal is left to `show.guide`.
"""

from dataclasses import dataclass
from importlib import resources

__all__ = ["PAGES", "Page", "page"]

#: Every page in the order of reading, with what it is about.
PAGES = {
    "bench": "a box on the bench: what the answer says, and count by count",
    "piece": "a loose piece in the hand",
    "writing": "how to write what you saw",
    "marks": "marks and features: what parts twins",
    "many": "many at once, from a spreadsheet",
    "field": "the catalog on a telephone, without a network",
    "pictures": "the train drawn, a sheet to fill in, a page for the customer's file",
    "ratios": "ratios without a catalog",
    "turning": "what turns, and where a noise comes from",
    "road": "road speed at engine speed, and back",
    "recover": "from printed ratios to teeth",
    "gauge": "which standard a gear was cut to, by callipers",
    "apart": "which wheels tell sets apart",
    "catalog": "your own catalog and book",
    "stock": "what is for sale, wanted and sold; complete sets; labels",
    "shell": "completion of words in your shell",
    "sql": "the tables of the book, for any SQLite tool",
    "safe": "what is kept safe, and how to get back what was spoilt",
    "sure": "how sure is sure",
}


@dataclass(frozen=True, slots=True)
class Page:
    """One page: its name, what it is about in a line, and its text as Markdown."""

    name: str
    about: str
    text: str


def page(name: str) -> Page:
    """Return the page of that name; raise KeyError where there is none."""
    about = PAGES[name]
    file = resources.files(__package__).joinpath(f"{name}.md")
    return Page(name, about, file.read_text(encoding="utf-8"))
