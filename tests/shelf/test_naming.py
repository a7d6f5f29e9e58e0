"""What an item is called: settled, of several sets, not settled, in no catalog."""

import pytest

from cogtally.catalog.model import Catalog, Family
from cogtally.evidence.loose import identify_piece
from cogtally.gears.errors import UserError
from cogtally.shelf.stock.items import Named, new_thing
from cogtally.shelf.stock.naming import LEAST_KEPT, MOST_KEPT, Naming, thing_of_catalog
from small_catalog import EARLY, SMALL

NAMING = Naming(SMALL, "digest", 7, "now")


def named(kind: str, words: str, naming: Naming = NAMING, **said: str) -> Named:
    """What the small catalog calls an item."""
    return naming.name(new_thing(kind, words.split(), **said))


@pytest.mark.parametrize(
    ("kind", "words", "verdict", "name"),
    [
        ("piece", "31 27 21 15 14", "type", "Birch four-speed laygear 31-27-21-15-14, Early"),
        ("piece", "18x9", "type", "Birch four-speed R-idler 18, set early, sport or haul"),
        ("piece", "44 20", "uncatalogued", "piece 44 20, not in the catalog"),
        ("piece", "12 " * 9, "uncatalogued", f"piece {'12 ' * 8}12, not in the catalog"),
        ("pair", "3=27/24", "matched", "pair 3=27/24 of Birch four-speed, Early"),
        ("pair", "3=60/12", "undecided", "not settled; likeliest pair 3=60/12, not in the catalog"),
        ("box", "input=20/31 1=15/36", "matched", "box of Birch four-speed, Early"),
        ("box", "1=13/40 2=20/33", "narrowed", "box of Twin, set a or b"),
    ],
)
def test_name(kind, words, verdict, name):
    """An item is called after what it is, with its sets; what is in no catalog says so."""
    found = named(kind, words)
    assert (found.verdict, found.name) == (verdict, name)


def test_not_settled():
    """What is not settled says so before what is likeliest."""
    found = named("box", "3@4:4")
    assert found.verdict == "undecided"
    assert found.name.startswith("not settled; likeliest box")
    assert found.away is None


def test_a_mixture_says_which_piece():
    """A box of two sets is called a mixture, with the piece of the other."""
    words = " ".join(EARLY).replace("3=27/24", "3=27/21")
    found = named("box", f"{words} 3.driven=21x3")
    assert "a mixture, mostly Birch four-speed, Early, with another's 3-gear" in found.name


def test_shares():
    """What an item may be is kept falling, as the evidence has it, nothing that is too rare."""
    thing = new_thing("piece", ["20"])
    shares = NAMING.name(thing).shares
    answer = identify_piece(SMALL, thing.piece)
    kept = [s for s in answer.posterior.answers() if s.probability >= LEAST_KEPT][:MOST_KEPT]
    assert [(s.family, s.piece, s.teeth, s.probability) for s in shares] == [
        (s.family, s.piece, s.kind.teeth if s.kind else (), s.probability) for s in kept
    ]
    assert len(shares) > 1


def test_one_piece_of_open_teeth():
    """A piece whose teeth are not settled is called after the piece, whatever is outside."""
    found = named("piece", "21", role="3-gear")
    assert found.verdict in ("type", "piece")
    assert found.piece == "3-gear"


def test_when_and_by_what():
    """A name keeps by which catalog it was found, and when."""
    found = named("piece", "18")
    assert (found.catalog, found.entry, found.at) == ("digest", 7, "now")


def test_only_family():
    """One family alone is asked about; where the catalog has lost it the item is in none."""
    assert named("pair", "3=27/24", only_family="twin-2").family in ("twin-2", "")
    gone = named("pair", "3=27/24", only_family="alder-9")
    assert (gone.verdict, gone.probability) == ("uncatalogued", 1.0)
    assert "alder-9" in gone.name


@pytest.mark.parametrize(("kind", "words"), [("piece", "18"), ("box", "1=14/31"), ("box", "1@4:1")])
def test_an_empty_catalog(kind, words):
    """By a catalog without families every item is in none."""
    found = named(kind, words, Naming(Catalog(()), "", 0, ""))
    assert (found.verdict, found.probability, found.shares) == ("uncatalogued", 1.0, ())


def test_a_family_without_a_name():
    """A family that has only an id is called after that."""
    bare = Catalog((Family(id="bare", layout="axle", sets=SMALL.by_id["sorrel-axle"].sets),))
    assert named("box", "final=9/41", Naming(bare, "", 0, "")).name == "box of bare, Low"


def test_names_of_the_trade():
    """A role and a family are kept as the catalog calls them; those it lacks are refused."""
    thing = thing_of_catalog(SMALL, new_thing("piece", ["28", "24"], role="Cluster"))
    assert thing.role == "laygear"
    box = thing_of_catalog(SMALL, new_thing("box", ["1=14/31"], only_family="Birch four-speed"))
    assert box.only_family == "birch-4"
    with pytest.raises(UserError, match="did you mean laygear"):
        thing_of_catalog(SMALL, new_thing("piece", ["28"], role="laygaer"))
