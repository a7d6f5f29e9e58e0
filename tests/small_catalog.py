"""A small invented catalog for tests, and boxes to ask it about.

Of `birch-4` no listed type of any wheel is within one tooth of another, but for reverse.
"""

from cogtally.catalog.model import Catalog, Family, RatioSet, Teeth


def pairs(**written: str) -> dict[str, Teeth]:
    """Return pairs as a catalog holds them: `pairs(input="17/28", g1="14/31")`."""
    return {
        name.removeprefix("g"): tuple(
            None if teeth == "_" else int(teeth) for teeth in text.split("/")
        )
        for name, text in written.items()
    }


BIRCH = Family(
    id="birch-4",
    layout="layshaft",
    name="Birch four-speed",
    direct="4",
    sets=(
        RatioSet(
            "early",
            "Early",
            pairs(input="20/31", g1="15/36", g2="21/30", g3="27/24", R="14/18/32"),
            commonness=3,
        ),
        RatioSet(
            "sport",
            "Sport",
            pairs(input="23/28", g1="18/33", g2="24/27", g3="30/21", R="14/18/32"),
            commonness=2,
        ),
        RatioSet(
            "haul", "[/5th]", pairs(input="17/34", g1="12/39", g2="18/33", g3="24/27", R="14/18/32")
        ),
    ),
)

SORREL = Family(
    id="sorrel-axle",
    layout="axle",
    name="Sorrel axle",
    sets=(
        RatioSet("low", "Low", pairs(final="9/41")),
        RatioSet("high", "High", pairs(final="10/37")),
    ),
)

TWINS = Family(
    id="twin-2",
    layout="two-shaft",
    name="Twin",
    sets=(
        RatioSet("a", "A", pairs(g1="13/40", g2="20/33", g3="26/27")),
        RatioSet("b", "B", pairs(g1="13/40", g2="20/33", g3="28/25")),
        RatioSet("print", "Printed", ratios={"1": "3.10", "2": "1.65"}),
    ),
)

SMALL = Catalog((BIRCH, SORREL, TWINS), name="small")

EARLY = ("input=20/31", "1=15/36", "2=21/30", "3=27/24", "R=14/18/32")
ALL_TURNED = ("input=31/20", "1=36/15", "2=30/21", "3=24/27")
