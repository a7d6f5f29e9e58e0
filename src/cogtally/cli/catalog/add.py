"""`cogtally catalog add`: write one set into the user's own book.

What the words mean is left to the notation, whether the set will do to the catalog.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.cli import options
from cogtally.cli.known import asked_book, is_entangled
from cogtally.cli.options import argument, option
from cogtally.cli.output import now_written
from cogtally.gears.errors import UserError, shown
from cogtally.gears.printed import parse_ratio
from cogtally.show.screen import note, show_or_json

if TYPE_CHECKING:
    from cogtally.catalog.changes import Kept


def add(
    name_of_set: str | None = argument("FAMILY/SET", "The set, by a new id."),
    seen: list[str] | None = argument(
        "COUNTS…", "Teeth driver/driven: input=17/28 1=14/31 R=12/20/28; _ where nobody counted."
    ),
    name: str | None = option("TEXT", "What the set is called."),
    alias: list[str] | None = option("TEXT", "What else it is called. May be given again."),
    source: str | None = option("TEXT", "Where the counts or ratios are from."),
    commonness: str | None = option("NUMBER", "How often it turns up beside its rivals; else 1."),
    ratio: list[str] | None = option("GEAR=RATIO", "A printed ratio, 1=3.65; once for each gear."),
    mark: list[str] | None = option(
        "PIECE:TEXT", "What is stamped or cast on a piece: 'laygear:LG 3102'. May be given again."
    ),
    feature: list[str] | None = option(
        "OF.FEATURE=VALUE",
        "Of a wheel or a piece: 3.driver.hand=left, laygear.splines=10. May be given again.",
    ),
    layout: str | None = option("LAYOUT", "Begin a new family of this layout."),
    direct: str | None = option("GEAR", "The gear of a new family that has no pair."),
    family_name: str | None = option("TEXT", "What a new family is called."),
    catalog: str | None = options.BOOK,
    demo: bool = options.NO_DEMO,
    as_json: bool = options.JSON,
) -> None:
    """Add a set to the book.

    One error, and nothing is written. A new family is begun by --layout: layshaft, sleeve,
    two-shaft, axle or overdrive (one pair, OD=24/84: the sun and its annulus).
    """
    refuse_demo(demo)
    if not name_of_set:
        mend = "write 'cogtally catalog add FAMILY/SET input=17/28 1=14/31 …'"
        raise UserError("FAMILY/SET is missing", "cogtally catalog add", mend)
    if not seen and not ratio:
        mend = "write teeth (1=14/31) or printed ratios (--ratio 1=3.65)"
        raise UserError("neither teeth nor ratios were written", mend=mend)
    from cogtally.catalog import changes
    from cogtally.catalog.book import partly_read
    from cogtally.catalog.looked import TRADE_NAMES
    from cogtally.gears.notation import parse_seen, refuse_other_pairs

    box = parse_seen(seen or [])
    refuse_other_pairs(box)
    place = asked_book(catalog, there=layout is None)
    known = partly_read(place) if place.exists() else Catalog(())
    family, of, set_id = changes.new_set_name(known, name_of_set)
    home = _home(known, family, of, layout, direct, whole_text(family_name, "--family-name"))
    counted = changes.written_pairs(box, family)
    new = RatioSet(
        id=set_id,
        name=whole_text(name, "--name"),
        pairs=counted.pairs,
        typed=counted.typed,
        ratios=_ratios(ratio or []),
        commonness=_number(commonness),
        source=whole_text(source, "--source"),
        aliases=tuple(text for text in _whole(alias, "--alias") if text),
        marks=changes.written_marks(_whole(mark, "--mark"), family, TRADE_NAMES),
        features=changes.written_features(_whole(feature, "--feature"), family, TRADE_NAMES),
    )
    home_id = home if isinstance(home, str) else home.id
    what = f"catalog add {home_id}/{set_id}"
    kept = changes.keep_set(place, home, new, what, entangled=is_entangled)
    say_kept(kept, str(place), as_json=as_json)


def refuse_demo(demo: bool) -> None:
    """Raise UserError for the invented catalog: nothing of it goes into a book."""
    if demo:
        mend = "leave --demo out: your book is for what was really counted"
        raise UserError("the invented demo catalog cannot be written to", "--demo", mend)


def say_kept(kept: Kept, book: str, *, as_json: bool) -> None:
    """Print what was written into a book; what is odd about it goes to standard error."""
    if kept.differences:
        now_written("the book is changed, and 'cogtally undo' takes that back")
    show_kept_or_json(kept, book, as_json=as_json)
    say_warnings(kept)


def show_kept_or_json(kept: Kept, book: str, *, as_json: bool) -> None:
    """Print what was written into a book."""
    from cogtally.show.catalog import kept_json, show_kept

    show_or_json(
        as_json,
        lambda: kept_json(kept, book=book),
        lambda console: show_kept(kept, console, book=book),
    )


def say_warnings(kept: Kept) -> None:
    """Print the warnings about what was written, a line each, on standard error."""
    for problem in kept.warnings:
        note(f"Warning: {problem}")


def whole_text(text: str | None, option: str) -> str:
    """Return a text as typed; raise UserError where it holds bytes that are no letters."""
    found = (text or "").strip()
    try:
        found.encode("utf-8")
    except UnicodeEncodeError:
        raise UserError("the text is not UTF-8", option, "write it anew") from None
    return found


def _home(
    known: Catalog,
    family: Family | None,
    text: str,
    layout: str | None,
    direct: str | None,
    name: str,
) -> str | Family:
    """The id of the family that the set goes to, or a new family."""
    if family is None:
        from cogtally.catalog.changes import no_family

        if layout is None:
            raise no_family(known, text)
        return Family(id=text, name=name, layout=layout, direct=direct or None)
    _same_as_known("--layout", layout, family.layout, family.id)
    _same_as_known("--direct", direct, family.direct, family.id)
    _same_as_known("--family-name", name or None, family.name, family.id)
    return family.id


def _same_as_known(option: str, given: str | None, known: str | None, family: str) -> None:
    if given is not None and given != known:
        has = f"{family} has {known}" if known else f"{family} has none"
        mend = f"leave it out, or change the family with 'cogtally catalog edit {family}'"
        raise UserError(f"{has} already", f"{option} {given}", mend)


def _ratios(words: list[str]) -> dict[str, str]:
    from cogtally.gears.notation import parse_name

    found: dict[str, str] = {}
    for word in words:
        left, equals, right = word.partition("=")
        if not equals or not left.strip() or not right.strip():
            expected = "'=' with a text on both sides was expected"
            raise UserError(expected, f"--ratio {shown(word)}", "write GEAR=RATIO: 1=3.65")
        gear, text = whole_text(left, "--ratio"), right.strip()
        parse_name(gear, "--ratio")
        if gear in found:
            raise UserError("two ratios of one gear were written", f"--ratio {gear}")
        found[gear] = parse_ratio(text).text
    return found


def _whole(words: list[str] | None, option: str) -> list[str]:
    return [whole_text(word, option) for word in words or []]


def _number(text: str | None) -> float:
    from cogtally.catalog.draft import LEAST_COMMONNESS, MOST_COMMONNESS

    if text is None:
        return 1.0
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not LEAST_COMMONNESS <= number <= MOST_COMMONNESS:
        mend = "write a number more than 0: 3 for a set that turns up three times as often"
        raise UserError("this is no positive number", f"--commonness {shown(text)}", mend)
    return number
