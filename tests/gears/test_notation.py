"""The notation: what is written is read back, and what cannot be read is said plainly."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, example, given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.notation import (
    Count,
    Turn,
    parse_chain,
    parse_count,
    parse_name,
    parse_path,
    parse_seen,
    parse_word,
    written_count,
)
from cogtally.gears.trains import wheel_names

NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9-]{0,19}", fullmatch=True)
COUNTS = st.none() | st.builds(
    Count, st.just("w"), st.integers(4, 200), st.booleans(), st.integers(1, 99)
)
#: How a number of turns may be written, with its value.
TURNS = st.one_of(
    st.integers(1, 99).map(lambda n: (str(n), Fraction(n))),
    st.tuples(st.integers(0, 99), st.from_regex(r"[0-9]{1,4}", fullmatch=True)).map(
        lambda t: (f"{t[0]}.{t[1]}", Fraction(f"{t[0]}.{t[1]}"))
    ),
    st.from_regex(r"\.[0-9]{1,4}", fullmatch=True).map(lambda t: (t, Fraction(t))),
    st.tuples(st.integers(1, 99), st.integers(1, 99)).map(
        lambda t: (f"{t[0]}/{t[1]}", Fraction(*t))
    ),
    st.tuples(st.integers(0, 99), st.integers(1, 99), st.integers(1, 99)).map(
        lambda t: (f"{t[0]}+{t[1]}/{t[2]}", t[0] + Fraction(t[1], t[2]))
    ),
)
#: Any word near enough to the notation to go wrong late.
NEAR_WORDS = st.text(st.sampled_from("1R=/.:@+_ux0369 driverheld-٣\n\x1b['é"), max_size=16)

PLACED = re.compile(r"at character (\d+) (?:read '(.*)'|the word ends): .+")


def write(count: Count | None) -> str:
    """Return a count as a person writes it."""
    if count is None:
        return "_"
    return written_count(count.teeth, count.unsure) + (f"x{count.times}" * (count.times != 1))


def refusal(text: str) -> UserError | None:
    """Return the error that a word is refused with, None where it is read."""
    try:
        parse_word(text)
    except UserError as error:
        return error
    return None


@given(name=NAMES, counts=st.lists(COUNTS, min_size=2, max_size=3))
def test_a_written_pair_is_read_back(name, counts):
    """Every pair that can be written is read with its name, its wheels and its counts."""
    word = parse_word(f"{name}={'/'.join(map(write, counts))}")
    named = zip(wheel_names(name, len(counts)), counts, strict=True)
    assert word.counts == tuple(replace(c, wheel=wheel) for wheel, c in named if c is not None)
    assert (word.pair, word.size, word.wheel, word.turn) == (name, len(counts), None, None)


@given(name=NAMES, role=st.sampled_from(["driver", "idler", "driven"]), count=COUNTS)
def test_a_written_wheel_is_read_back(name, role, count):
    """Every single wheel that can be written is read, one not counted too."""
    wheel = f"{name}.{role}"
    word = parse_word(f"{wheel}={write(count)}")
    assert word.counts == (() if count is None else (replace(count, wheel=wheel),))
    assert (word.wheel, word.pair, word.turn) == (wheel, None, None)


@given(
    gears=st.lists(NAMES, min_size=1, max_size=3), before=TURNS, behind=TURNS, held=st.booleans()
)
def test_a_written_turn_test_is_read_back(gears, before, behind, held):
    """Every turn test in range is read as exactly the fractions that were written."""
    assume(before[1] > 0 and behind[1] > 0)
    assume(Fraction(1, 5) <= before[1] / behind[1] <= 20)
    # Parts of a turn in for several whole turns out are the wrong way round.
    whole_out = behind[1].denominator == 1 != before[1].denominator
    assume(not whole_out or before[1] / behind[1] >= Fraction(1, 2))
    word = parse_word(f"{'+'.join(gears)}@{before[0]}:{behind[0]}{'/held' * held}")
    reads_input = behind[0].isdigit() and not before[0].isdigit()
    assert word.turn == Turn(tuple(gears), before[1], behind[1], reads_input, held)
    assert word.counts == ()


@given(count=COUNTS)
def test_a_count_alone_is_read_back(count):
    """A count asked for by itself is written as it is inside a word."""
    assert parse_count(write(count), "w") == count


@given(gear=NAMES, pairs=st.lists(NAMES, min_size=1, max_size=4))
def test_a_spelled_path_is_read_back(gear, pairs):
    """A path is read as its gear and its pairs in order."""
    assert parse_path(f"{gear}={','.join(pairs)}") == (gear, tuple(pairs))


@given(name=NAMES)
def test_a_name_alone_is_read_back(name):
    """Whatever may name a pair may be given as a gear."""
    assert parse_name(name) == name


def test_a_chain_without_its_name_is_the_pair():
    """Counts given to an option are those of the pair that the option stands for."""
    chain, word = parse_chain("9/41", "final", ""), parse_word("final=9/41")
    assert (chain.counts, chain.pair, chain.size) == (word.counts, word.pair, word.size)


def test_seen_keeps_the_written_order():
    """Counts and turn tests stand in the order of the words, each word as it was typed."""
    texts = ["2=19/_", "1@1:0.27", "1.driven=31x2", "R@4:1"]
    seen = parse_seen(texts)
    assert [word.text for word in seen.words] == texts
    assert seen.counts == (Count("2.driver", 19), Count("1.driven", 31, False, 2))
    assert [turn.gears for turn in seen.turns] == [("1",), ("R",)]


@pytest.mark.parametrize(
    ("text", "reads_input"),
    [
        ("1@4:1.1", False),
        ("1@3.65:1", True),
        ("1@3+2/3:1", True),
        ("1@3.65:1.0", False),
        ("1@4:1", False),
        ("1@7/2:3/4", False),
    ],
)
def test_a_whole_output_alone_means_that_the_input_was_read(text, reads_input):
    """Only where the output alone is a whole number was the output turned to its mark."""
    turn = parse_word(text).turn
    assert turn.reads_input is reads_input


@pytest.mark.parametrize(
    ("text", "character", "says"),
    [
        ("=14/31", 1, "a name"),
        (" 1=14/31", 1, "a name"),
        ("٣=14/31", 1, "a name"),
        ("a-name-of-21-letters-=14/31", 1, "at most 20"),
        ("1", 2, "'=', '.' or '@'"),
        ("1:14/31", 2, "'=', '.' or '@'"),
        ("1=", 3, "a count"),
        ("1=a/31", 3, "a count"),
        ("1=١٤/٣١", 3, "a count"),
        ("1=-14/31", 3, "a count"),
        ("1=3/31", 3, "4 to 200"),
        ("1=201/31", 3, "4 to 200"),
        ("1=14/0", 6, "4 to 200"),
        ("1=14/99999999999999", 6, "too long"),
        ("1=14", 5, "no pair"),
        ("1=14,31", 5, "nothing more"),
        ("1=14/", 6, "a count"),
        ("1=14//31", 6, "a count"),
        ("1=14.5/31", 5, "nothing more"),
        ("1=14/31/", 9, "a count"),
        ("R=12/20/28/30", 11, "two wheels, or three"),
        ("1=14x/31", 6, "how many times"),
        ("1=14x0/31", 6, "1 to 99"),
        ("1=14x100/31", 6, "1 to 99"),
        ("1=14x2u/31", 7, "nothing more"),
        ("1=_u/31", 4, "nothing more"),
        ("1=14/31 ", 8, "nothing more"),
        ("1.", 3, "no wheel"),
        ("1.drover=14", 3, "no wheel"),
        ("1.driver", 9, "'=' is missing"),
        ("1.drivers=14", 9, "'=' is missing"),
        ("1.driver=14/31", 12, "nothing more"),
        ("1.driver=3", 10, "4 to 200"),
        ("1+", 3, "a name"),
        ("1+final", 8, "'@' is missing"),
        ("1+final=9/41", 8, "'@' is missing"),
        ("1@", 3, "turns"),
        ("1@nan:1", 3, "turns"),
        ("1@-4:1", 3, "turns"),
        ("1@4", 4, "':' is missing"),
        ("1@4:", 5, "turns"),
        ("1@0:1", 3, "more than 0"),
        ("1@4:0.0", 5, "more than 0"),
        ("1=24?/31", 5, "written 24u"),
        ("1@4:1/0", 7, "divided by 0"),
        ("1@1+1:1", 6, "'/' of a fraction"),
        ("1@4:1.1/hold", 8, "nothing more"),
        ("1@1e3:1", 4, "':' is missing"),
        ("1@1234567890123:1", 3, "too long"),
    ],
)
def test_a_mistake_names_its_character(text, character, says):
    """A mistake says at which character, what was read there, what is wrong and what is right."""
    with pytest.raises(UserError) as caught:
        parse_word(text)
    placed = PLACED.fullmatch(caught.value.sentence)
    assert int(placed[1]) == character
    assert text[character - 1 :].startswith((placed[2] or "").rstrip("…"))
    assert says in caught.value.sentence
    assert caught.value.place == text
    assert caught.value.mend


@pytest.mark.parametrize("text", ["1@1:10", "1@100:1", "1@4:0.0001"])
def test_a_turn_test_beyond_any_gearbox_is_refused(text):
    """In over out outside 0.2 to 20 is refused, and the word is named; the ends are taken."""
    assert all(parse_word(end).turn for end in ("1@1:5", "1@20:1"))
    with pytest.raises(UserError, match=r"outside 0\.2 to 20") as caught:
        parse_word(text)
    assert caught.value.place == text
    assert caught.value.mend


@given(text=NEAR_WORDS)
@example("")
@example("1=\x1b[31m/20")
@example("1\n=14/31")
def test_any_word_is_read_or_refused_in_one_line(text):
    """Whatever was typed: it is read, or one printable line says where and what would be right."""
    error = refusal(text)
    if error is None:
        return
    assert str(error).isprintable()
    assert error.mend
    placed = PLACED.fullmatch(error.sentence)
    if placed is None:
        assert error.sentence.startswith(("an empty word", "turns in over turns out"))
    else:
        assert 1 <= int(placed[1]) <= len(text) + 1
        assert (placed[2] is None) == (int(placed[1]) == len(text) + 1)


@given(
    word=st.sampled_from(["input=17/28", "R=12/20/28", "1.driven=31x2", "3=24u/21", "1@3+2/3:1"]),
    at=st.integers(0, 12),
    character=st.sampled_from("=/.:@+_ux ٣é"),
)
def test_one_wrong_key_is_found_where_it_was_struck(word, at, character):
    """One character too many is never reported in front of the number or name that it spoils."""
    at = min(at, len(word))
    error = refusal(word[:at] + character + word[at:])
    placed = None if error is None else PLACED.fullmatch(error.sentence)
    spoiled = re.search(r"[A-Za-z0-9]*$", word[:at])
    assert placed is None or int(placed[1]) >= spoiled.start() + 1


def test_a_long_word_is_shown_short():
    """An error shows the beginning of a word of any length, not all of it."""
    with pytest.raises(UserError) as caught:
        parse_word("1=14/" + "9" * 5000)
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize(
    ("read", "says"),
    [
        (
            lambda: parse_chain("9/4l", "final", "write 9/41", "--axle"),
            "--axle 9/4l: at character ",
        ),
        (lambda: parse_name("R 1", "--direct"), "--direct R 1: at character 2 read ' 1'"),
        (lambda: parse_path("R:input", "--path"), "--path R:input: at character 2 read ':input'"),
        (lambda: parse_path("R=input,", "--path"), "--path R=input,: at character 9 the word ends"),
    ],
)
def test_the_value_of_an_option_is_shown_with_it(read, says):
    """A mistake in an option's value shows the option and counts characters from the value."""
    assert callable(read)
    with pytest.raises(UserError) as caught:
        read()
    assert str(caught.value).startswith(says)
    assert caught.value.mend
