"""What identify says of one box: headline, pairs, rivals, what to do next, account; and its JSON.

It knows the words and the tables. What is true of the box is left to the evidence.
"""

from cogtally.show.box.headline import (
    box_name,
    sentences,
    teeth_text,
)
from cogtally.show.box.json import (
    FORMAT,
    LEAST_LISTED,
    answer_json,
    observed_json,
)
from cogtally.show.box.next import (
    bits,
    look_words,
    next_lines,
    then,
)
from cogtally.show.box.remedy import Shelf, remedies_json, remedy_text
from cogtally.show.box.screen import (
    show_answer,
)
from cogtally.show.box.tables import (
    DIFFERS,
    check_cells,
    column_head,
    conclusion,
    look_row,
    look_table,
    odds,
    pair_remarks,
    pair_row,
    rival_text,
)

__all__ = [
    "DIFFERS",
    "FORMAT",
    "LEAST_LISTED",
    "Shelf",
    "answer_json",
    "bits",
    "box_name",
    "check_cells",
    "column_head",
    "conclusion",
    "look_row",
    "look_table",
    "look_words",
    "next_lines",
    "observed_json",
    "odds",
    "pair_remarks",
    "pair_row",
    "remedies_json",
    "remedy_text",
    "rival_text",
    "sentences",
    "show_answer",
    "teeth_text",
    "then",
]
