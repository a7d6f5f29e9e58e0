"""The field page in a real browser, from a file and from a host, mostly without a network.

`scripts/test --all` gets the browser; without one these tests say so. What each step does stands in
`field.mjs`.
"""

import json
import os
import random
import shutil
import subprocess
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from cogtally.catalog.files.reading import demo_catalog, load_catalog
from cogtally.catalog.looked import find_role, resolved_piece
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.loose import identify_piece
from cogtally.field import Wish, write_page
from cogtally.gears.looks import parse_piece, with_looks
from cogtally.show.piece.screen import piece_json
from field.page import MADE, MODULES, off, tables
from field.pieces import Asked, piece
from field.test_writing import HOSTILE, hostile_catalog
from reference.worlds import toml_text, world

HERE = Path(__file__).parent
PIECES = 2_000
#: Random catalogs beside the demo; each has several families, gaps, marks and features.
WORLDS = (3, 11, 27)
LAYGEAR = ["28", "24", "19", "14", "12"]
#: A catalog of 2,000 sets fits a telephone, and keeps up with a thumb where the processor is slowed
#: four times. On a quiet machine it opens in under 1.5 s and answers a key in under 100 ms, where a
#: bare page takes 0.1 s; the gate is a ratio to that page in the same run.
SETS, MOST_BYTES, SLOWED = 2_000, 650_000, 4
OPENS_OVER_BARE, KEY_OVER_BARE = 12.0, 1.5

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(
        "COGTALLY_BROWSER" not in os.environ,
        reason="no browser: scripts/test --all gets one where it can",
    ),
]


def ran(scenario: str, **asked: Any) -> dict[str, Any]:
    """What came of a scenario in the browser."""
    done = subprocess.run(
        [
            *("node", str(HERE / "field.mjs"), scenario),
            *(os.environ["COGTALLY_BROWSER"], os.environ["COGTALLY_CHROMIUM"]),
        ],
        input=json.dumps(asked, default=str),
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def quiet(found: dict[str, Any]) -> None:
    """Nothing was said by the console, and nothing asked of the network."""
    assert found["console"] == []
    assert found["requests"] == []


@pytest.fixture
def page(tmp_path) -> Path:
    """The demo's page as one file."""
    write_page(tables(demo_catalog()), tmp_path / "field.html", is_folder=False)
    return tmp_path / "field.html"


def random_catalog(seed: int, folder: Path) -> Catalog:
    """One of the random catalogs of the enumeration, read from its files."""
    folder.mkdir()
    for doc in world(seed, 6):
        (folder / f"{doc['family']['id']}.toml").write_text(toml_text(doc), encoding="utf-8")
    return load_catalog(folder)


def by_command(catalog: Catalog, asked: Asked) -> dict[str, Any]:
    """What `cogtally piece --json` prints of a piece."""
    seen = with_looks(parse_piece(asked["counts"]), asked["marks"], asked["features"])
    role = None if asked["role"] is None else find_role(catalog, asked["role"])
    return piece_json(identify_piece(catalog, resolved_piece(catalog, seen), role))


def apart(catalog: Catalog, pieces: Sequence[Asked], page: Path, *, kinds: bool = False) -> float:
    """How far the page in the browser is at most from the command; `kinds`: verdicts too."""
    found = ran("answers", page=page, pieces=pieces)
    quiet(found)
    worst = 0.0
    for ours, asked in zip(found["answers"], pieces, strict=True):
        theirs = by_command(catalog, asked)
        worst = max(worst, off(ours, theirs))
        if kinds and any(word not in ("_", "..") for word in asked["counts"]):
            assert ours["verdict"]["kind"] == theirs["verdict"]["kind"], asked
    return worst


@pytest.mark.parametrize("seed", [None, *WORLDS])
def test_pieces_are_answered_as_by_the_command(seed, tmp_path):
    """From a file and without a network, 500 pieces a catalog agree to 1e-9, and in the verdict."""
    catalog = demo_catalog() if seed is None else random_catalog(seed, tmp_path / "world")
    dice = random.Random(f"browser {seed}")
    pieces = [piece(catalog, dice) for _ in range(PIECES // (1 + len(WORLDS)))]
    place = tmp_path / "field.html"
    write_page(tables(catalog), place, is_folder=False)
    assert apart(catalog, pieces, place, kinds=True) < 1e-9


@pytest.mark.parametrize("figure", ["unlisted", "asFamily", "slip", "readRight"])
def test_a_figure_that_differs_is_found_out(figure, tmp_path):
    """A page whose law has one figure a tenth larger does not agree with the command."""
    catalog = demo_catalog()
    dice = random.Random(f"differs {figure}")
    pieces = [piece(catalog, dice) for _ in range(60)]
    known = tables(catalog)
    known["law"][figure] *= 1.1
    write_page(known, tmp_path / "field.html", is_folder=False)
    assert apart(catalog, pieces, tmp_path / "field.html") > 1e-9


def wanting(place: Path) -> Path:
    """The demo's page with a wish, as one file."""
    wish = Wish("alder-4", "wide", "laygear", (28, 24, 19, 14, 12), "five of six", "40", "EUR")
    write_page(tables(demo_catalog(), wishes=[wish]), place, is_folder=False)
    return place


def test_keys_write_what_the_command_reads(tmp_path):
    """Counts pressed key by key are the words of the command; the answer names set and wish."""
    typed = [LAYGEAR, ["..", "24u", "19x2", "_"], ["_", "24", ".."], ["150x3"], ["28", "24u"]]
    found = ran("answers", page=wanting(tmp_path / "field.html"), pieces=[], typed=typed)
    quiet(found)
    assert [one["words"] for one in found["typed"]] == typed
    first = found["typed"][0]["shown"]
    assert "The laygear 28-24-19-14-12 of Alder four-speed, Wide ratio." in first
    assert "nearly certain, 99 %" in first
    assert "3.driven 21" in first
    assert "Wanted for Alder four-speed, Wide ratio, up to 40 EUR" in first
    assert not any("Wanted for" in one["shown"] for one in found["typed"][2:])


def test_every_part_fits_and_can_be_read_by_everybody(tmp_path):
    """At 360×640 and 844×390, light and dark: no sideways scrolling, keys of 48, 7:1, axe clean."""
    catalog = demo_catalog()
    known = tables(
        catalog,
        wishes=[
            Wish("alder-4", "wide", "laygear", (28, 24, 19, 14, 12), "five of six", "40", "EUR")
        ],
    )
    place = tmp_path / "field.html"
    write_page(known, place, is_folder=False)
    pictures = os.environ.get("COGTALLY_PICTURES")
    pieces = [
        LAYGEAR,
        ["28", "24", "18u", "14x3", "12"],
        ["..", "24"],
        ["44", "71"],
        [str(teeth) for teeth in (28, 24, 19, 14, 12, 29, 40, 33, 51, 22)],
    ]
    place = wanting(tmp_path / "field.html")
    found = ran("looks", page=place, pieces=pieces, pictures=pictures)
    quiet(found)
    assert found["misfits"] == {}
    assert found["violations"] == {}
    assert {"color-contrast-enhanced", "button-name", "label", "target-size"} <= {*found["passed"]}


def test_a_pale_page_with_small_keys_is_found_out(page, tmp_path):
    """A page with weaker contrast and smaller keys does not pass."""
    style = (MODULES / "page.css").read_text(encoding="utf-8")
    pale = style.replace("--ink: #000", "--ink: #6b6b6b").replace(
        "min-height: 52px", "height: 40px"
    )
    text = page.read_text(encoding="utf-8")
    bad = tmp_path / "bad.html"
    # The policy would rightly refuse another style; the check puts it out of force.
    bad.write_text(text.replace(style, pale.replace("min-height: 48px;", "")), encoding="utf-8")
    assert bad.read_text(encoding="utf-8") != text
    found = ran("looks", page=bad, pieces=[LAYGEAR])
    violations = {rule.partition(":")[0] for some in found["violations"].values() for rule in some}
    assert "color-contrast-enhanced" in violations
    assert any("x40:" in misfit for misfit in found["misfits"]["hand-phone-light"])


def test_a_keyboard_alone_does_all_of_it(page):
    """Counting, the bag with its price, the counting aid and a key need no pointer."""
    found = ran("keyboard", page=page, words=["28", "24u", "19x2", "_", "12"], family="alder-4")
    quiet(found)
    assert found["words"] == ["28", "24u", "19x2", "_", "12"]
    (thing,) = found["bag"]
    assert (thing["counts"], thing["price"], thing["currency"]) == (
        "28 24u 19x2 _ 12",
        "12.50",
        "EUR",
    )
    assert found["counted"] == ["22"]
    assert "Alder four-speed" in found["key"]
    assert "Count " in found["key"]


def test_the_bag_goes_into_the_stock(page, tmp_path, cogtally):
    """The bag is there after reloads and in two windows, and `stock add --from` takes it."""
    note = 'a "good" one, oily; = 1+1 \u05d0'
    things: list[dict[str, Any]] = [
        {
            "words": LAYGEAR,
            "details": {"price": "12,50", "currency": "eur", "place": "stall 4", "note": note},
        },
        {"words": ["..", "24u", "19x2"], "details": {"quantity": "3"}, "mark": "LG 3;02"},
    ]
    found = ran("bag", page=page, things=things)
    quiet(found)
    assert found["afterReload"] == [".. 24u 19x2", "28 24 19 14 12"]
    assert (found["hand"], found["form"]) == (["28", "24u"], "half a note")
    assert found["windows"] == [["18"], ["17"]]
    assert found["both"] == [4, 4]
    assert "Left in the hand of another window" in found["left"]
    assert found["taken"] == ["17"]
    assert found["privately"] == ["24"]
    assert "a private window forgets it" in found["privateWords"]

    book, sheet = tmp_path / "book.db", tmp_path / "bag.csv"
    shutil.copytree(HERE.parents[1] / "catalog", tmp_path / "mine")
    ran_import = cogtally("catalog", "import", str(tmp_path / "mine"), "--catalog", str(book))
    assert ran_import.code == 0, ran_import.err
    sheet.write_text(found["csv"], encoding="utf-8", newline="")
    added = cogtally("stock", "add", "--from", str(sheet), "--catalog", str(book), "--json")
    assert added.code == 0, added.err
    told = json.loads(added.out)
    assert told["refused"] == []
    assert len(told["items"]) == 1 + 3
    text = json.dumps(told, ensure_ascii=False)
    assert "12.50" in text
    assert "stall 4" in text
    assert json.dumps(note, ensure_ascii=False)[1:-1] in text


def test_a_full_or_shut_storage_loses_nothing_silently(page):
    """The thing stays on the screen and goes out as CSV, it is said, and leaving asks first."""
    found = ran("storage", page=page)
    quiet(found)
    full, again, none = found["full"], found["again"], found["none"]
    assert "storage of this browser is full" in full["notes"]
    assert full["bag"] == ["24"]
    assert "when it was full" in full["csv"]
    assert again == {"notes": "", "bag": [["24", "when it was full"]]}
    assert "keeps nothing for this page" in none["notes"]
    assert none["bag"] == ["24"]
    assert ",24," in none["csv"]
    assert found["dialogs"] == ["beforeunload"]


def test_the_folder_is_installed_and_never_goes_back(tmp_path):
    """Opened once it works without a network; a newer page comes, no older or mixed one."""
    pages = {}
    for name, later in (("first", 0), ("second", 1), ("third", 9)):
        made = MADE + timedelta(days=later)
        write_page(tables(demo_catalog(), made=made), tmp_path / name, is_folder=True)
        pages[name] = made.isoformat()
    # A cache on the way that has the new worker and the old page.
    shutil.copytree(tmp_path / "first", tmp_path / "mixed")
    shutil.copy(tmp_path / "third/worker.js", tmp_path / "mixed")
    found = ran(
        "folder",
        first=tmp_path / "first",
        second=tmp_path / "second",
        mixed=tmp_path / "mixed",
        words=LAYGEAR,
    )
    assert found["console"] == []
    asked = {address.rpartition("/")[2] for address in found["requests"]}
    assert asked <= {"", "icon-192.png", "manifest.webmanifest"}
    assert found["installability"] == found["manifest"] == []
    assert found["offline"]["made"] == pages["first"]
    assert "of Alder four-speed, Wide ratio." in found["offline"]["shown"]
    assert "A newer catalog has come." in found["newer"]["notes"]
    assert found["newer"]["made"] == pages["second"]
    assert found["newer"]["hand"] == LAYGEAR
    assert found["stale"] == {"made": pages["second"], "kept": 1, "offline": pages["second"]}
    assert found["mixed"] == {"made": pages["second"]}
    assert found["newer"]["kept"] == 1


def test_hostile_names_are_text_and_nothing_leaves(tmp_path):
    """Markup in names is shown as it stands; the page can neither load, send nor run anything."""
    place = tmp_path / "field.html"
    write_page(tables(hostile_catalog()), place, is_folder=False)
    note = "<b>bold</b> \u202e =HYPERLINK(1)"
    found = ran("hostile", page=place, words=["28", "16"], note=note)
    text = "\n".join(found["texts"])
    for name in (HOSTILE[0], HOSTILE[1], "\u05d0" * 200, "<b>bold</b>"):
        assert name in text
    assert found["made"] == []
    assert found["misfits"] == []
    assert found["asked"] == []
    assert (found["done"], found["reached"]) == ([], [])


def made_family(dice: random.Random, number: int) -> Family:
    """A five-speed family of five sets with names, a source and a mark each."""
    whole = dice.randint(42, 58)
    sets: list[RatioSet] = []
    for index in range(5):
        first = dice.randint(15, 22)
        teeth = sorted(dice.sample(range(13, whole - 14), 4))
        pairs = {"input": (first, whole - first)} | {
            gear: (driver, whole - driver) for gear, driver in zip("1235", teeth, strict=True)
        }
        pairs["R"] = (13, 20, whole - 18)
        if sets and dice.random() < 0.8:
            changed = dice.choice(list(pairs))
            pairs = {**sets[-1].pairs, changed: pairs[changed]}
        marks = {"laygear": (f"LG {number}{index}",)}
        sets.append(RatioSet(f"s{index}", f"Kind {index} of {number}", pairs, marks=marks))
    return Family(
        f"made-{number}", "layshaft", f"Made five-speed {number}", tuple(sets), direct="4"
    )


def test_a_large_catalog_fits_and_keeps_up(tmp_path):
    """2,000 sets are below 650 kB; opening and keys keep their pace beside a bare page."""
    dice = random.Random(7)
    families = tuple(made_family(dice, number) for number in range(SETS // 5))
    place, bare = tmp_path / "field.html", tmp_path / "bare.html"
    write_page(tables(Catalog(families, "made")), place, is_folder=False)
    size = place.stat().st_size
    assert size <= min(MOST_BYTES, 150_000 + 250 * SETS)
    bare.write_text("<!doctype html><title>bare</title><p>bare</p>", encoding="utf-8")
    first = families[0].types["laygear"][0].teeth
    keys = [key for teeth in first[:3] for key in (*str(teeth), "next wheel")]
    found = ran("speed", page=place, bare=bare, slowed=SLOWED, keys=keys)
    slowest = max(found["keys"])
    print(f"{size:,} bytes; ms: bare {found['bare']:.0f}, opens {found['opens']:.0f}")
    print(f"slowest key {slowest:.0f} of {[round(ms) for ms in found['keys']]}")
    assert found["opens"] / found["bare"] < OPENS_OVER_BARE
    assert slowest / found["bare"] < KEY_OVER_BARE
