"""What people type for a pair or a gear is the name that it means, or is refused.

The same at the command line, in a file and at the prompt.
"""

import json

import pytest

from conftest import Ran

PLAIN = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28", "1@4:1.1")
#: The same box in other words: as words of a command line.
SPELLINGS = (
    ("Input=17/28", "1st=14/31", "SECOND=19/26", "third=24/21", "reverse=12/20/28", "first@4:1,1"),
    ("INPUT=17/28", "First=14/31", "2nd=19/26", "3rd=24/21", "rev=12/20/28", "1@4:1.1"),
    ("input = 17/28", "1 = 14 / 31", "2= 19/26", "3 =24/21", "r=12/20 / 28", "1 @ 4 : 1.1"),
    ("input", "=", "17", "/28", "1=", "14/31", "2=19/26", "3=24/21", "R=12/20/28", "1@4:1.1"),
)
#: What is refused, and what is said to be right.
REFUSED = (
    (("inptu=17/28",), "did you mean input?"),
    (("zzzz=17/28",), "pairs and gears are called"),
    (("2=19/26", "2=14/31"), "again write 2=19/26 2.driver=14"),
    (("2nd=19/26", "2=20/26"), "2.driver=20"),
    (("1=14/31", "1=14/31/9"), "with its idler if it has one"),
    (("3=24?/21",), "24u"),
    (("1@1.1:4",), "did you mean 1@4:1.1?"),
)


def answers(ran: Ran) -> object:
    """Return the answers of a run with --json."""
    return json.loads(ran.out)["answers"]


@pytest.mark.parametrize("words", SPELLINGS)
def test_a_spelling_of_the_trade_is_the_name_it_means(cogtally, words):
    """Case, spaces, ordinals, reverse and decimal commas change nothing in the answer."""
    assert answers(cogtally("identify", "--demo", "--json", *words)) == answers(
        cogtally("identify", "--demo", "--json", *PLAIN)
    )


@pytest.mark.parametrize("words", SPELLINGS)
def test_a_spelling_in_a_file_is_the_name_it_means(cogtally, tmp_path, words):
    """A cell of a file is read as the command line is."""
    file = tmp_path / "boxes.csv"
    plain, typed = (" ".join(each).replace('"', "") for each in (PLAIN, words))
    file.write_text(f'item,seen\na,"{plain}"\nb,"{typed}"\n', encoding="utf-8")
    lines = cogtally("identify", "--demo", "--from", str(file), "--json").out.splitlines()
    first, second = (json.loads(line) for line in lines[:2])
    assert first["answers"] == second["answers"]


@pytest.mark.parametrize("words", SPELLINGS[:3])
def test_a_spelling_at_the_prompt_is_the_name_it_means(cogtally, cogtally_process, tmp_path, words):
    """A line at the prompt is read as the command line is."""
    typed = "\n".join((*words[:2], "quit", ""))
    ran = cogtally_process(
        "session", "--demo", "--json", stdin=typed, env={"COGTALLY_SESSIONS": str(tmp_path)}
    )
    wanted = cogtally("identify", "--demo", "--json", *PLAIN[:2])
    assert json.loads(ran.out)["so_far"][0] == json.loads(wanted.out)["so_far"][0], ran.err


@pytest.mark.parametrize(("words", "right"), REFUSED)
def test_what_means_nothing_is_refused_with_what_is_right(cogtally, words, right):
    """A name of nothing, a pair written twice and a slip get one line with what is right."""
    ran = cogtally("identify", "--demo", *words)
    said = " ".join(ran.err.split())
    assert (ran.code, ran.out) == (2, "")
    assert right in said


def test_a_pair_again_at_the_prompt_is_asked_about(cogtally_process, tmp_path):
    """At the prompt a pair with other teeth changes nothing and is asked about."""
    ran = cogtally_process(
        "session",
        "--demo",
        "--json",
        stdin="2=19/26\n2=20/27\nquit\n",
        env={"COGTALLY_SESSIONS": str(tmp_path)},
    )
    assert "was one of them another pair?" in " ".join(ran.err.split())
    assert json.loads(ran.out)["so_far"][0]["family"] == "alder-4"
