"""What identify says of one box: headline, pairs, rivals, what to do next, account; and its JSON.

It knows the words and the tables. What is true of the box is left to the evidence.
"""

from cogtally.show.box.headline import box_name as box_name, sentences as sentences
from cogtally.show.box.json import (
    LEAST_LISTED as LEAST_LISTED,
    answer_json as answer_json,
    observed_json as observed_json,
)
from cogtally.show.box.next import (
    Shelf as Shelf,
    bits as bits,
    look_words as look_words,
    next_lines as next_lines,
    remedy_text as remedy_text,
    then as then,
    told_apart as told_apart,
)
from cogtally.show.box.screen import (
    DIFFERS as DIFFERS,
    account_rows as account_rows,
    account_sides as account_sides,
    column_head as column_head,
    conclusion as conclusion,
    look_row as look_row,
    look_table as look_table,
    odds as odds,
    pair_remarks as pair_remarks,
    pair_row as pair_row,
    rival_text as rival_text,
    show_answer as show_answer,
)
