"""What identify says of one box: headline, pairs, rivals, what to do next, account; and its JSON.

It knows the words and the tables. What is true of the box is left to the evidence.
"""

from cogtally.show.box.headline import (
    box_name,
    sentences,
)
from cogtally.show.box.json import (
    LEAST_LISTED,
    answer_json,
    observed_json,
)
from cogtally.show.box.next import (
    Shelf,
    bits,
    look_words,
    next_lines,
    remedies_json,
    remedy_text,
    then,
)
from cogtally.show.box.screen import (
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
    show_answer,
)

__all__ = [
    "DIFFERS",
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
    "then",
]
