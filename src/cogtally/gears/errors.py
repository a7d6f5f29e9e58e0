"""The one kind of error that a user can cause: a sentence, a place and a mend.

How it is printed, and with which exit code, is left to the command line.
"""

from __future__ import annotations


class UserError(Exception):
    """Something a person typed or wrote cannot be understood or used.

    `sentence` says what is wrong in one line, `place` where (a word, a file and line; may be
    empty) and `mend` what would be right (may be empty).
    """

    def __init__(self, sentence: str, place: str = "", mend: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.place = place
        self.mend = mend

    def __str__(self) -> str:
        head = f"{self.place}: {self.sentence}" if self.place else self.sentence
        return f"{head}; {self.mend}" if self.mend else head


class PerhapsWrittenError(UserError):
    """An error at the very end: what was to be written is written, or nobody can tell."""
