"""CSV: separators, decimal commas, dates, lost noughts, and the lines of what is wrong.

What is said word for word stands in tests/snapshots/catalog/csv.txt.
"""

import pytest

from catalog.sound import listing, problems_of, read_text, spoilt

SHEET = """\
family,layout,direct,set,name,commonness,source,input.driver,input.driven,1.driver,1.driven,\
R.driver,R.idler,R.driven,ratio 1,decimals
ash-4,layshaft,4,wide,Wide,2,bench,17,28,14,31,12,20,28,3.65,2
ash-4,,,late,Late,1.5,bench,18,27,14,31,12,,28,3.32,2
ash-4,,,brochure,,,a brochure,,,,,,,,3.3,2
"""
TEETH, RATIO = "14,31,12,20", "3.65,2"

CASES = {
    "day_and_month": spoilt(SHEET, (TEETH, "9-Apr,31,12,20")),
    "month_and_year": spoilt(SHEET, (TEETH, "Sep-41,31,12,20")),
    "month_in_another_language": spoilt(SHEET, (TEETH, "9. Mai,31,12,20")),
    "written_out": spoilt(SHEET, (TEETH, "2041-09-01,31,12,20")),
    "with_the_time": spoilt(SHEET, (TEETH, "2041-09-01 00:00:00,31,12,20")),
    "three_numbers": spoilt(SHEET, (TEETH, "9/4/2041,31,12,20")),
    "days_since_1900": spoilt(SHEET, (TEETH, "51745,31,12,20")),
    "date_for_a_ratio": spoilt(SHEET, (RATIO, "Mar-65,2")),
    "date_for_an_id": spoilt(SHEET, (",wide,", ",Jul-38,")),
    "two_counts": spoilt(SHEET, (TEETH, "14/31,,12,20")),
    "broken_count": spoilt(SHEET, (TEETH, "17.0,31,12,20")),
    "too_few_teeth": spoilt(SHEET, (TEETH, "3,31,12,20")),
    "decimal_comma": spoilt(SHEET, (RATIO, '"3,65",2')),
    "more_decimals_than_said": spoilt(SHEET, (RATIO, "3.654,2")),
    "decimals_no_number": spoilt(SHEET, (RATIO, "3.65,x")),
    "decimals_not_said": spoilt(SHEET, (RATIO, "3.65,")),
    "no_ratio": spoilt(SHEET, (RATIO, "abc,2")),
    "ratio_of_zero": spoilt(SHEET, (RATIO, "0,2")),
    "commonness_in_words": spoilt(SHEET, ("Wide,2", "Wide,two")),
    "misspelt_wheel": spoilt(SHEET, ("1.driven", "1.drivn")),
    "misspelt_ratio": spoilt(SHEET, ("ratio 1", "ratio1")),
    "misspelt_column": spoilt(SHEET, ("layout,", "layuot,")),
    "column_without_a_name": spoilt(SHEET, ("name,", ",")),
    "column_twice": spoilt(SHEET, ("1.driven", "1.driver")),
    "no_column_set": "family,layout,source,final.driver\nash,axle,x,10\nash,axle,x,11\n",
    "no_header": "hello\nworld\n",
    "open_quote": spoilt(SHEET, ("Wide", '"Wide')),
    "text_behind_a_quote": spoilt(SHEET, ("Wide", '"Wi"de')),
    "row_too_long": spoilt(SHEET, (RATIO, RATIO + ",,more")),
    "cell_too_long": spoilt(SHEET, ("Wide", "W" * 200_000)),
    "nothing": "",
    "no_row": SHEET[: SHEET.index("\n") + 1],
    "rows_that_disagree": spoilt(SHEET, ("ash-4,,,late", "ash-4,sleeve,,late")),
    "set_twice": spoilt(SHEET, (",late,", ",wide,")),
    "no_id": spoilt(SHEET, (",late,", ",,")),
}
SEMICOLONS = SHEET.replace(",", ";")


def test_words(snapshot):
    """Each problem of a sheet is said once, with its line, its column, and what would be right."""
    snapshot("catalog/csv", listing(CASES, "ash-4.csv"))


@pytest.mark.parametrize(
    "text",
    [
        SHEET,
        SEMICOLONS,
        SHEET.replace(",", "\t"),
        SEMICOLONS.replace("3.65", "3,65").replace("1.5", "1,5"),
        SHEET.replace("\n", "\r\n"),
        "\ufeff" + SHEET,
        SHEET + ",,,,,,,,,,,,,,,\n\n",
        SHEET.replace("Wide,", '"Wide",'),
    ],
)
def test_separators(text):
    """Comma, semicolon, tab, decimal commas, ends of lines and a mark at the start say the same."""
    catalog, problems = read_text(text, "ash-4.csv")
    assert problems == ()
    assert catalog.families == read_text(SHEET, "ash-4.csv")[0].families


def test_values():
    """A row is a set: its cells are teeth, an empty one a gap, and lost noughts come back."""
    (family,) = read_text(SHEET, "ash-4.csv")[0].families
    assert (family.id, family.layout, family.direct) == ("ash-4", "layshaft", "4")
    wide, late, brochure = family.sets
    assert wide.pairs == {"input": (17, 28), "1": (14, 31), "R": (12, 20, 28)}
    assert (wide.name, wide.commonness, wide.source) == ("Wide", 2.0, "bench")
    assert late.pairs["R"] == (12, None, 28)
    assert (dict(brochure.pairs), brochure.ratios) == ({}, {"1": "3.30"})


@pytest.mark.parametrize(
    ("cell", "decimals", "text"),
    [
        ("2", "2", "2.00"),
        ("2.1", "2", "2.10"),
        (".9", "2", "0.90"),
        ("2", "0", "2"),
        ("3.65", "", "3.65"),
    ],
)
def test_lost_noughts(cell, decimals, text):
    """The column decimals gives back the noughts that a spreadsheet dropped, and only those."""
    sheet = f"family,layout,set,ratio 1,decimals\nash-4,two-shaft,a,{cell},{decimals}\n"
    (family,) = read_text(sheet, "ash-4.csv")[0].families
    assert family.sets[0].ratios == {"1": text}


def test_families_apart():
    """A family has the pairs of its own rows, not all columns; rows may stand in any order."""
    sheet = (
        "family,layout,set,final.driver,final.driven,1.driver,1.driven\n"
        "axle,axle,a,9,41,,\nbox,two-shaft,a,,,13,45\naxle,axle,b,10,41,,\nbox,two-shaft,b,,,_,45\n"
    )
    axle, box = read_text(sheet, "two.csv")[0].families
    assert [list(known.pairs) for known in axle.sets] == [["final"], ["final"]]
    assert [known.pairs for known in box.sets] == [{"1": (13, 45)}, {"1": (None, 45)}]


def test_line_behind_a_long_cell():
    """A row's line is that where it begins, though a cell above runs over several lines."""
    text = spoilt(SHEET, ("bench", '"on\nthe\nbench"'), ("18,27", "3,27"))
    (problem,) = problems_of(text, "ash-4.csv")
    assert (problem.line, problem.key) == (5, "input.driver")


def test_no_decimals_once():
    """A sheet without decimals is warned of once, at its first row with a ratio."""
    text = SHEET.replace(",decimals", "").replace(",2\n", "\n")
    (problem,) = problems_of(text, "ash-4.csv")
    assert (problem.code, problem.line) == ("csv-no-decimals", 2)
    assert problem.sentence.startswith("3 rows give ratios")
