"""The console: its width, its colours, and what it makes of other people's text."""

import io

import pytest
from hypothesis import given, strategies as st

from cogtally.show.screen import console_for, plain, width_of, wrapped, written_list


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("columns", "width"),
    [("20", 60), ("60", 60), ("80", 80), ("250", 100), ("0", 80), ("-5", 80), ("wide", 80)],
)
def test_the_width_is_held_between_60_and_100(columns, width, monkeypatch):
    """COLUMNS is taken within 60 to 100; what is no number of columns leaves 80."""
    monkeypatch.setenv("COLUMNS", columns)
    assert width_of(io.StringIO()) == width
    assert console_for(io.StringIO()).width == width


def test_off_a_terminal_the_width_is_80():
    """Where there is nobody to ask the screen is 80 columns wide."""
    assert width_of(io.StringIO()) == 80


@pytest.mark.parametrize(
    ("variable", "value", "coloured"),
    [("TERM", "xterm-256color", True), ("NO_COLOR", "1", False), ("TERM", "dumb", False)],
)
def test_colour_is_for_terminals_that_want_it(variable, value, coloured, monkeypatch):
    """On a terminal there is colour, but not with NO_COLOR or on one that has none."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv(variable, value)
    stream = Terminal()
    console_for(stream).print("loud", style="bold yellow")
    assert ("\x1b" in stream.getvalue()) == coloured
    assert "loud" in stream.getvalue()


@given(st.text(alphabet="[]/abc:! x", min_size=1, max_size=40))
def test_text_is_never_read_as_markup(text):
    """Brackets and colons in other people's text come out as they are."""
    stream = io.StringIO()
    console_for(stream).print(text, soft_wrap=True)
    assert stream.getvalue() == text + "\n"


@given(st.text(max_size=60))
def test_plain_text_cannot_steer_a_terminal(text):
    """Made plain, a text is on one line, as long as before, and printable."""
    made = plain(text)
    assert made.isprintable()
    assert len(made) == len(text)


@given(st.lists(st.sampled_from(["wheel", "97 %", "3.driven", "a"]), max_size=30))
def test_wrapped_lines_fit_and_keep_per_cents_together(words):
    """Wrapped text is the same words in lines that fit, and a per cent is never parted."""
    text = " ".join(words)
    lines = wrapped(text, 20)
    assert " ".join(lines) == text
    assert all(len(line) <= 20 and not line.startswith("%") for line in lines)


def test_ends_of_lines_become_spaces():
    """A note of several lines is one line with spaces, not one with strange characters."""
    assert plain("first\r\nsecond\tthird\x07") == "first  second third\ufffd"


def test_wrapped_by_columns():
    """A letter that takes two columns counts as two, and the text is left as it was."""
    assert wrapped("\u5909\u901f\u6a5f box of four", 10) == ["\u5909\u901f\u6a5f box", "of four"]
    assert wrapped("\u5909\u901f\u6a5f box of four", 9) == ["\u5909\u901f\u6a5f", "box of", "four"]


def test_a_list_reads_as_in_a_sentence():
    """One, two and three words are listed as a sentence lists them."""
    assert [written_list("abc"[:n], "or") for n in range(4)] == ["", "a", "a or b", "a, b or c"]
