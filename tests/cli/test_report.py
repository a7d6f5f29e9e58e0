"""`identify --report` through the real entry point: the page for a customer's file."""

import re
import shutil
from datetime import date
from pathlib import Path

import pytest

from cogtally.catalog.files.reading import load_catalog
from cogtally.evidence.advice import advise_briefly
from cogtally.evidence.reading import identify
from cogtally.gears.notation import parse_seen
from cogtally.show.report import isolated, report_drawing, report_html, report_of
from cogtally.show.screen import CAUTIONS
from cogtally.show.train import answer_subject, train_drawing
from conftest import refused
from show.drawing_checks import outside_page, overlapping_labels, small_texts

CATALOG = Path(__file__).parents[2] / "catalog"
FOUR = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")
#: Boxes of every layout: matched, mixed, half counted, turned, and in no catalog.
BOXES: dict[str, tuple[str, ...]] = {
    "matched": FOUR,
    "mixed": ("input=17/28", "1=14/31", "2=19/26", "3=24/22x2"),
    "half-counted": FOUR[:2],
    "turned": ("1@4:1.1", "2@9:4"),
    "uncatalogued": ("input=23/44", "1=11/50"),
    "two-shaft": ("1=12/41", "2=18/35"),
    "sleeve": ("1=20/24",),
    "axle": ("final=9/44",),
}


@pytest.fixture
def mine(tmp_path) -> str:
    """A catalog of one's own with the families of the invented one."""
    shutil.copytree(CATALOG, tmp_path / "mine")
    return str(tmp_path / "mine")


def test_html(mine, tmp_path, cogtally):
    """One file with answer, train, pairs, account, what was not counted, date and cautions."""
    page = tmp_path / "box.html"
    ran = cogtally(
        *("identify", *BOXES["mixed"], "--mark", "laygear:LG 3?02"),
        *("--catalog", mine, "--report", str(page)),
    )
    assert ran.code == 0
    assert "Report written" in ran.err
    text = page.read_text(encoding="utf-8")
    assert '<html lang="en">' in text
    assert "MIXED: Alder four-speed" in text
    for said in ("<svg", "24/22", "laygear:LG 3?02", "LG 3102", "R.idler", "The account in bits"):
        assert said in text, said
    assert date.today().isoformat() in text
    assert "Fingerprint of the catalog" in text
    for sentence in CAUTIONS:
        assert sentence in text
    left = re.sub(r'xmlns(:\w+)?="[^"]*"', "", text)
    assert not re.search(r"https?:|<script|<link|@import|url\(|src=", left)


def test_pdf(mine, tmp_path, cogtally):
    """The PDF can be read back: the answer, every count, the cautions, at most two pages."""
    from pypdf import PdfReader

    page = tmp_path / "box.pdf"
    ran = cogtally("identify", *FOUR, "--catalog", mine, "--report", str(page))
    assert ran.code == 0
    pages = PdfReader(str(page)).pages
    assert len(pages) <= 2
    text = " ".join(" ".join(p.extract_text() for p in pages).split())
    assert "Wide ratio (alder-4/wide)" in text
    for word in ("17/28", "14/31", "19/26", "24/21", "12/20/28", "qualified rebuilder"):
        assert word in text, word


@pytest.mark.parametrize("name", list(BOXES))
def test_nothing_overlaps(name):
    """On no page does a word lie on another or outside the paper; it is one or two pages."""
    catalog = load_catalog(CATALOG)
    advising = advise_briefly if len(BOXES[name]) > 3 else None
    answer = identify(catalog, parse_seen(BOXES[name]), advising=advising, why=True)
    picture = train_drawing(answer_subject(answer), bare=True)
    drawing = report_drawing(report_of(answer, date(2026, 3, 1), "0" * 64), picture)
    assert outside_page(drawing) == []
    assert overlapping_labels(drawing) == []
    assert 1 <= len(drawing.pages) <= 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (FOUR, "Every wheel was counted."),
        (FOUR[:4], "R.driver, R.idler, R.driven."),
        (("input=72/23", "3=82/23"), "of no known family"),
    ],
)
def test_what_was_not_counted(words, says):
    """Nothing is called whole that is not: a box of no known family may have more wheels."""
    answer = identify(load_catalog(CATALOG), parse_seen(words))
    assert says in report_of(answer, date(2026, 3, 1), "0").not_counted


def test_text_of_others_is_escaped(tmp_path, cogtally):
    """A name with markup stands on the page as it was written, and is no markup."""
    (tmp_path / "odd.toml").write_text(
        '[family]\nid = "odd-4"\nname = "<b>Odd</b> & [/5th] 歯車"\nlayout = "two-shaft"\n'
        '[[set]]\nid = "a"\nname = "<script>alert(1)</script>"\nsource = "invented"\n'
        'pairs = { 1 = "12/41", 2 = "18/35" }\n',
        encoding="utf-8",
    )
    for ending in ("html", "pdf"):
        page = tmp_path / f"box.{ending}"
        words = ("1=12/41", "2=18/35", "--catalog", str(tmp_path / "odd.toml"))
        assert cogtally("identify", *words, "--report", str(page)).code == 0
    text = (tmp_path / "box.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "&lt;b&gt;Odd&lt;/b&gt; &amp; [/5th] 歯車" in text


def test_what_a_customer_sees(mine, tmp_path, cogtally):
    """Whose it is, the verdict, the stranger, what to do, cautions; then pairs in three tables."""
    page = tmp_path / "box.html"
    people = ("--shop", "Mill Lane", "--customer", "ورشة الترس", "--vehicle", "van", "--job", "7")
    words = ("--catalog", mine, "--report", str(page), *people)
    assert cogtally("identify", *BOXES["mixed"], *words).code == 0
    text = page.read_text(encoding="utf-8")
    order = ["Mill Lane", "<bdi>ورشة الترس</bdi>", 'class="answer"', "3-gear, 22: of late or close"]
    order += ["To make it wide: a 3-gear of 21 teeth", "Cautions", "<caption>Disagree", "24/22"]
    order += ["<caption>Agree", "<caption>Not counted", "<summary>The account in bits", "signed"]
    places = [text.index(said, text.index("<main>")) for said in order]
    assert places == sorted(places)


def test_people_need_a_report(cogtally):
    """A customer without a report is asked about, not passed over."""
    refused(
        cogtally("identify", "--demo", *FOUR, "--customer", "A"), "--customer goes with --report"
    )


def test_names_from_right_to_left_are_set_apart():
    """Such a name, of several words too, stands alone; what is round it keeps its order."""
    assert isolated("of גיר ישן, 3 <4>") == "of <bdi>גיר ישן,</bdi> 3 &lt;4&gt;"


def test_a_plain_report_is_one_page():
    """A box of one set, all counted, is told of on one page of A4, none of it under 7 pt."""
    answer = identify(load_catalog(CATALOG), parse_seen(FOUR), why=True)
    report = report_of(answer, date(2026, 3, 1), "0" * 64)
    drawing = report_drawing(report, None)
    assert len(drawing.pages) == 1
    assert small_texts(drawing, 7.0) == []
    assert "<svg" not in report_html(report)


def test_the_screen_stays_the_same(mine, tmp_path, cogtally):
    """A report changes nothing on standard output."""
    plain = cogtally("identify", *FOUR, "--catalog", mine)
    page = str(tmp_path / "box.html")
    assert cogtally("identify", *FOUR, "--catalog", mine, "--report", page).out == plain.out


@pytest.mark.parametrize(
    ("file", "more", "says"),
    [
        ("box.html", ("--demo",), "no report is made from the invented demo catalog"),
        ("box.txt", (), "use .html or .htm or .pdf"),
        ("", (), "this is no name of a file"),
        ("nowhere/box.html", (), "there is no folder"),
    ],
)
def test_refused(file, more, says, mine, tmp_path, cogtally):
    """What cannot be written is refused in one line, and nothing is written."""
    place = str(tmp_path / file) if file else ""
    given = more or ("--catalog", mine)
    refused(cogtally("identify", *FOUR, *given, "--report", place), says)
    assert not (tmp_path / "box.html").exists()
