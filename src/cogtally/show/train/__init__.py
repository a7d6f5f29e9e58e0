"""The train of a box drawn: what it shows, where all stands, its signs, on a page or in characters.

It knows how the field draws a gear train; what was counted, and what that comes to, it is told.
"""

from cogtally.show.train.labels import Letters
from cogtally.show.train.picture import (
    Picture,
    gear_drawing,
    narrow_drawing,
    train_drawing,
    train_picture,
)
from cogtally.show.train.plan import Label, Subject
from cogtally.show.train.subject import (
    BLANK_OVERDRIVE,
    answer_subject,
    blank_subject,
    blank_train,
    family_subject,
    table_subject,
)
from cogtally.show.train.text import answer_lines, table_lines

__all__ = [
    "BLANK_OVERDRIVE",
    "Label",
    "Letters",
    "Picture",
    "Subject",
    "answer_lines",
    "answer_subject",
    "blank_subject",
    "blank_train",
    "family_subject",
    "gear_drawing",
    "narrow_drawing",
    "table_lines",
    "table_subject",
    "train_drawing",
    "train_picture",
]
