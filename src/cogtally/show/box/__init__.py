"""What identify says of one box: headline, pairs, rivals, what to do next, account; and its JSON.

It knows the words and the tables. What is true of the box is left to the evidence.
"""

from cogtally.show.box.headline import box_name, sentences
from cogtally.show.box.json import LEAST_LISTED, answer_json, observed_json
from cogtally.show.box.next import (
    Shelf,
    bits,
    look_words,
    next_lines,
    remedy_text,
    then,
    told_apart,
)
from cogtally.show.box.screen import (
    DIFFERS,
    account_rows,
    account_sides,
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
    "account_rows",
    "account_sides",
    "answer_json",
    "bits",
    "box_name",
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
    "remedy_text",
    "rival_text",
    "sentences",
    "show_answer",
    "then",
    "told_apart",
]
