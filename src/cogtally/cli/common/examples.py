"""The examples that help ends with, by the words of the command that they are of.

They run one after the other on a book of the demo's files, so that each finds what it names.
"""

from __future__ import annotations

from collections.abc import Mapping

EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "": (
        "identify --demo input=17/28 1=14/31 2=19/26 3=24/21",
        "piece --demo 28 24 19 14 12",
        "guide bench",
    ),
    "identify": (
        "identify --demo input=17/28 1=14/31 2=19/26 3=24/22x2 --why",
        "identify --demo --shut 1@4:1.1 2@4:1.77",
        "identify --expect alder-4/wide input=17/28 1=14/31 2=19/26 3=24/21",
    ),
    "piece": (
        "piece --demo 28 24 19 14 12",
        "piece --demo 24u 19 .. --role laygear",
        "piece 22 --family alder-4",
    ),
    "session": ("session --demo", "session --list"),
    "ratios": (
        "ratios input=16/29 1=15/30 2=20/25 3=25/20 --direct 4",
        "ratios input=16/29 1=15/30 --axle 9/41",
    ),
    "turning": (
        "turning input=16/29 1=15/30 2=20/25",
        "turning input=16/29 1=15/30 2=20/25 --noise 1",
    ),
    "recover": ("recover 3.65 2.25 1.44", "recover 3.9 --layout axle"),
    "gauge": (
        "gauge --teeth 24 --outside 81.3 --span 4:32.83",
        "gauge --standard 3 --angle 20 --teeth 22-26",
    ),
    "road": (
        "road --set alder-4/wide --axle 9/41 --tyre 165/80R15",
        "road input=16/29 1=15/30 2=20/25 --axle 4.11 --tyre 1960mm --rpm 5000",
    ),
    "sheet": ("sheet alder-4 --out sheet.pdf", "sheet --blank layshaft --out blank.pdf"),
    "field": ("field --out field.html", "field --family alder-4 --out alder.html"),
    "guide": ("guide", "guide bench"),
    "help": ("help identify", "help stock add"),
    "catalog": ("catalog check book.db", "catalog show alder-4", "catalog find alder"),
    "catalog check": ("catalog check book.db", "catalog check book.db --json"),
    "catalog list": ("catalog list", "catalog list --json"),
    "catalog show": ("catalog show alder-4", "catalog show alder-4/wide"),
    "catalog find": ("catalog find alder", "catalog find '1=14/31'"),
    "catalog apart": ("catalog apart alder-4", "catalog apart willow-4 --json"),
    "catalog add": (
        "catalog add alder-4/trial input=18/27 1=15/30 2=20/25 3=25/20 R=12/20/28",
        "catalog add alder-4/leaflet --ratio 1=3.21 --ratio 2=2.00 --ratio 3=1.33",
    ),
    "catalog export": ("catalog export out", "catalog export again --replace"),
    "stock": ("stock add 28 24 19 14 12 --place 'shelf 3'", "stock list", "stock kits"),
    "stock add": (
        "stock add 28 24 19 14 12 --price 45 --currency GBP",
        "stock add --pair 3=24/21",
        "stock add input=17/28 1=14/31 2=19/26 3=24/21",
    ),
    "stock list": ("stock list", "stock list --all"),
    "stock show": ("stock show 1", "stock show 1 --json"),
    "stock find": ("stock find 28 24", "stock find shelf"),
    "stock edit": ("stock edit 1 --place attic", "stock edit 1 --price 50"),
    "stock kits": ("stock kits", "stock kits alder-4 --by count"),
    "stock label": (
        "stock label 1 --size 60x30 --out roll.pdf",
        "stock label --all-new --grid 8x3 --out sheet-of-labels.pdf",
    ),
    "stock recheck": ("stock recheck --dry-run", "stock recheck"),
    "stock export": ("stock export stock.csv", "stock export stock.json"),
    "stock sell": ("stock sell 1 --to 'a friend' --price 40",),
    "log": ("log", "log 2"),
    "undo": ("undo", "undo 2"),
}
