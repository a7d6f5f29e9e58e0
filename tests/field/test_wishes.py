"""What the page says is wanted, from the stock of a book."""

import json

from cogtally.catalog.book import make_catalog_book
from field.test_writing import in_page
from small_catalog import SMALL


def test_the_page_wants_what_completes_a_set(tmp_path, cogtally):
    """What `stock kits` lacks for a set is on the page, with how much of the set is there."""
    book = tmp_path / "own.db"
    make_catalog_book(book, SMALL.families)
    for piece, counts in (("laygear", "31 27 21 15 14"), ("1-gear", "36"), ("2-gear", "30")):
        words = ("stock", "add", *counts.split(), "--role", piece, "--catalog", str(book))
        assert cogtally(*words, "--price", "9", "--currency", "EUR").code == 0
    for piece, counts in (("input-shaft", "20"), ("3-gear", "24")):
        words = ("stock", "add", counts, "--role", piece, "--catalog", str(book))
        # Prices in two currencies do not add up, and do not matter for what is lacking.
        assert cogtally(*words, "--price", "9", "--currency", "GBP").code == 0
    near = json.loads(
        cogtally("stock", "kits", "--by", "count", "--catalog", str(book), "--json").out
    )["nearly"]
    page = tmp_path / "field.html"
    ran = cogtally("field", "--wanted", "--catalog", str(book), "--out", str(page))
    assert ran.code == 0, ran.err
    wanted = in_page(page.read_text(encoding="utf-8"))["wanted"]
    lacking = [
        (one["family"], one["set"], missing["piece"]) for one in near for missing in one["missing"]
    ]
    assert lacking
    assert [(wish["family"], wish["set"], wish["piece"]) for wish in wanted] == lacking
    assert {wish["piece"]: wish["teeth"] for wish in wanted if wish["set"] == "early"} == {
        "R-idler": [18],
        "R-gear": [32],
    }
    assert wanted[0]["why"] == "5 of 7 pieces are in the stock"

    # What the owner noted comes first, with its price, and stands once.
    early = ("birch-4/early", "R-gear", "--up-to", "30", "--currency", "GBP")
    for words in (early, ("birch-4/sport", "laygear")):
        noted = cogtally("stock", "want", *words, "--catalog", str(book))
        assert noted.code == 0, noted.err
    ran = cogtally("field", "--wanted", "--catalog", str(book), "--out", str(page), "--force")
    assert ran.code == 0, ran.err
    wanted = in_page(page.read_text(encoding="utf-8"))["wanted"]
    assert [
        (wish["set"], wish["piece"], wish["upTo"], wish["currency"]) for wish in wanted[:2]
    ] == [("early", "R-gear", "30", "GBP"), ("sport", "laygear", "", "")]
    named = [(wish["set"], wish["piece"]) for wish in wanted]
    assert len(named) == len({*named})
    assert ("early", "R-idler") in named


def test_a_page_without_wanted_says_so_in_its_tables(tmp_path, cogtally):
    """Nothing asked is not the same as nothing wanted."""
    book = tmp_path / "own.db"
    make_catalog_book(book, SMALL.families)
    found = []
    for more in ((), ("--wanted",)):
        page = tmp_path / f"field{len(more)}.html"
        assert cogtally("field", *more, "--catalog", str(book), "--out", str(page)).code == 0
        found.append(in_page(page.read_text(encoding="utf-8"))["wanted"])
    assert found == [None, []]
