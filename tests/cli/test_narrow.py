"""Narrow terminals: errors and notes are broken between words, and no help is cut."""

import re

import pytest

from cli.terminal import Terminal

WRONG = ("identify", "1=14/31", "--shut", "--demo")
#: Its answer comes with a note on standard error.
NOTED = ("ratios", "1=14/31", "2@4:1.1")


@pytest.mark.parametrize("columns", [40, 60])
@pytest.mark.parametrize(("words", "begin"), [(WRONG, "cogtally: "), (NOTED, "Note: ")])
def test_a_note_is_broken_between_words(cogtally, words, begin, columns):
    """On a terminal an error or a note goes on below, indented, and has the words of one line."""
    terminal = Terminal(*words, columns=columns, env={})
    terminal.close()
    lines = terminal.text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith(begin))
    note = [lines[first]]
    for line in lines[first + 1 :]:
        if not line.startswith("  "):
            break
        note.append(line)
    assert len(note) > 1
    assert max(map(len, note)) <= columns
    piped = cogtally(*words).err
    assert piped.count("\n") == 1
    assert " ".join(" ".join(note).split()) == " ".join(piped.split())


@pytest.mark.parametrize("group", [(), ("catalog",), ("stock",)])
def test_help_cuts_no_summary(cogtally, group):
    """On 60 columns the summary of every command is a whole sentence on one line."""
    ran = cogtally(*group, "--help", columns=60)
    commands, _, _ = ran.out.partition("\nExamples:")
    lines = [line for line in commands.splitlines() if re.match(r"  [a-z]+  ", line)]
    assert len(lines) >= 10
    assert [line for line in lines if not line.endswith(".") or line.endswith("..")] == []
    assert all(line.startswith("  ") and line[2] != " " and len(line) <= 60 for line in lines)
