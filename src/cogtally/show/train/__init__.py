"""The train of a box drawn: what it shows, where all stands, its signs, on a page or in characters.

It knows how the field draws a gear train; what was counted, and what that comes to, it is told.
"""

from cogtally.show.train.labels import Letters as Letters
from cogtally.show.train.picture import (
    Picture as Picture,
    gear_drawing as gear_drawing,
    narrow_drawing as narrow_drawing,
    train_drawing as train_drawing,
    train_picture as train_picture,
)
from cogtally.show.train.plan import Label as Label, Subject as Subject
from cogtally.show.train.subject import (
    BLANK_OVERDRIVE as BLANK_OVERDRIVE,
    answer_subject as answer_subject,
    blank_subject as blank_subject,
    blank_train as blank_train,
    family_subject as family_subject,
    table_subject as table_subject,
)
from cogtally.show.train.text import answer_lines as answer_lines, table_lines as table_lines
