"""How counts, pairs and turn tests are written and read: one parser for everywhere.

What the counts mean for an answer is left to the evidence, which box it is to the catalog.

    word   = pair | wheel | turn
    pair   = NAME "=" count "/" count ["/" count]        driver/driven, driver/idler/driven
    wheel  = NAME "." ("driver" | "idler" | "driven") "=" count
    count  = "_" | 4…200 ["u"] ["x" 1…99]                u: unsure; x3: counted three times
    turn   = NAME {"+" NAME} "@" turns ":" turns ["/held"]
    turns  = decimal | fraction | whole "+" fraction     1.1   7/24   1+1/6
    NAME   = letters, digits, "-", at most 20

Spaces round the signs are nothing, and a name may be written as the trade says it: `first`, `1st`,
`reverse`. Which names there are a catalog knows (`named`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from operator import attrgetter

from cogtally.gears.errors import UserError, shown
from cogtally.gears.trains import INPUT, OUTPUT, REVERSE, ROLES_OF_THREE, is_numbered, wheel_names

FEWEST_TEETH = 4
MOST_TEETH = 200
MOST_TIMES = 99
LONGEST_NAME = 20
#: A turn test is refused where in/out lies outside these, so that every reading has support.
LEAST_TURN_RATIO = Fraction(1, 5)
MOST_TURN_RATIO = Fraction(20)
#: Digits in one number of a turn test; more is a slip of the keyboard.
LONGEST_NUMBER = 12


@dataclass(frozen=True, slots=True)
class Count:
    """One count of one wheel: `teeth`, `unsure` or not, the same result so many `times`."""

    wheel: str
    teeth: int
    unsure: bool = False
    times: int = 1


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn test: in `gears` (one after the other) `turns_in` at the input gave `turns_out`.

    `reads_input`: the output was turned to its mark and the input read. `held`: an axle with one
    wheel held, so that the other turned twice as far.
    """

    gears: tuple[str, ...]
    turns_in: Fraction
    turns_out: Fraction
    reads_input: bool = False
    held: bool = False


@dataclass(frozen=True, slots=True)
class Word:
    """One thing seen, as it was written: `text`, with its counts or its turn test.

    `pair` and `size` are given where a whole pair was written, `wheel` where one wheel was; what
    is written `_` has no count.
    """

    text: str
    counts: tuple[Count, ...] = ()
    turn: Turn | None = None
    pair: str | None = None
    size: int = 0
    wheel: str | None = None


@dataclass(frozen=True, slots=True)
class ReadMark:
    """What was read of a mark on `piece` (empty: the loose piece itself), `text` as written.

    `reading` has small letters and digits, `?` for one character that could not be read, `*` for
    any number of them.
    """

    piece: str
    reading: str
    text: str


@dataclass(frozen=True, slots=True)
class ReadFeature:
    """A feature that was looked at, `text` as written.

    `owner`: a wheel or a piece; of a loose piece empty, or the place of a wheel. `value`: a count,
    a size in the unit that the feature's name ends with, or a kind; the same so many `times`.
    """

    owner: str
    feature: str
    value: str | int | float
    unsure: bool = False
    times: int = 1
    text: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """All that was seen on one box, each kind in the order in which it was written."""

    words: tuple[Word, ...]
    marks: tuple[ReadMark, ...] = ()
    features: tuple[ReadFeature, ...] = ()

    @property
    def counts(self) -> tuple[Count, ...]:
        """Every count, in written order."""
        return tuple(c for word in self.words for c in word.counts)

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Every turn test, in written order."""
        return tuple(word.turn for word in self.words if word.turn is not None)

    @property
    def looks(self) -> tuple[ReadMark | ReadFeature, ...]:
        """Every mark and feature that was looked at: marks first, then features."""
        return (*self.marks, *self.features)


_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_DIGITS = re.compile(r"[0-9]+")
_DECIMAL = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+")
#: What an error shows of what is left of a word.
LONGEST_REST = 20

FORMS = "write a pair 1=14/31, a wheel 1.driver=14 or a turn test 1@4:1.1"


class Scanner:
    """A place in one word; `option` is the option whose value it is, for errors, else empty."""

    def __init__(self, text: str, option: str = "") -> None:
        self.text = text
        self.option = option
        self.at = 0

    def peek(self) -> str:
        """Return the next character, empty at the end."""
        return self.text[self.at : self.at + 1]

    def shown(self) -> str:
        """Return the word as an error shows it: short, and safe for a terminal."""
        text = shown(self.text)
        return f"{self.option} {text}" if self.option else text

    def take(self, literal: str) -> bool:
        """Step over `literal` if it comes next, and tell whether it did."""
        if self.text.startswith(literal, self.at):
            self.at += len(literal)
            return True
        return False

    def error(self, what: str, mend: str, back: int = 0) -> UserError:
        """Return the error that `what` is wrong here, or so many characters `back`."""
        place = self.at - back
        rest = shown(self.text[place:], LONGEST_REST)
        read = f"read '{rest}'" if rest else "the word ends"
        return UserError(f"at character {place + 1} {read}: {what}", self.shown(), mend)

    def end(self, mend: str) -> None:
        """Raise UserError unless the word ends here."""
        if self.at < len(self.text):
            raise self.error("nothing more was expected", mend)

    def name(self, mend: str = FORMS) -> str:
        """Read a name of letters, digits and `-`; raise UserError."""
        found = _NAME.match(self.text, self.at)
        if found is None:
            raise self.error("a name of letters, digits and '-' was expected", mend)
        if len(found[0]) > LONGEST_NAME:
            raise self.error(f"a name has at most {LONGEST_NAME} characters", "use a shorter name")
        self.at = found.end()
        return found[0]

    def number(self, what: str, mend: str) -> int:
        """Read a whole number, of which an error speaks as `what`; raise UserError."""
        return int(self.digits(_DIGITS, f"{what} was expected", mend))

    def digits(self, form: re.Pattern[str], what: str, mend: str) -> str:
        """Read a number of a form, else raise UserError: `what`, or that it is too long."""
        found = form.match(self.text, self.at)
        if found is None:
            raise self.error(what, mend)
        if len(found[0]) > LONGEST_NUMBER:
            raise self.error("the number is too long", mend)
        self.at = found.end()
        return found[0]

    def count(self, wheel: str, mend: str = "a count is a number of teeth, or _") -> Count | None:
        """Read one count of `wheel`, None for `_`; raise UserError."""
        if self.take("_"):
            return None
        start = self.at
        teeth = self.number("a count of teeth, or _,", mend)
        if not FEWEST_TEETH <= teeth <= MOST_TEETH:
            what = f"a count is {FEWEST_TEETH} to {MOST_TEETH} teeth"
            raise self.error(what, mend, back=self.at - start)
        unsure = self.take("u")
        if self.peek() == "?":
            raise self.error(f"an unsure count is written {teeth}u", mend)
        times = 1
        if self.take("x"):
            start = self.at
            times = self.number("how many times it was counted", mend)
            if not 1 <= times <= MOST_TIMES:
                what = f"x is followed by 1 to {MOST_TIMES}"
                raise self.error(what, mend, back=self.at - start)
        return Count(wheel, teeth, unsure, times)

    def turns(self, mend: str) -> tuple[Fraction, bool]:
        """Read turns, and tell whether they were written as a whole number; raise UserError."""
        start = self.at
        written = self.digits(_DECIMAL, "turns were expected", mend)
        value, whole = Fraction(written.replace(",", ".")), written.isdigit()
        if whole and self.take("+"):
            value += self.fraction(self.number("a fraction", mend), mend)
            whole = False
        elif whole and self.peek() == "/" and not self.text.startswith("/held", self.at):
            value = self.fraction(int(value), mend)
            whole = False
        if value <= 0:
            raise self.error("turns must be more than 0", mend, back=self.at - start)
        return value, whole

    def fraction(self, above: int, mend: str) -> Fraction:
        """Read the rest of a fraction, `/` and what stands below it; raise UserError."""
        if not self.take("/"):
            raise self.error("'/' of a fraction was expected", mend)
        start = self.at
        below = self.number("the lower half of a fraction", mend)
        if below == 0:
            raise self.error("nothing can be divided by 0", mend, back=self.at - start)
        return Fraction(above, below)

    def role(self, mend: str) -> str:
        """Read the role of a wheel in its pair; raise UserError."""
        role = next((r for r in ROLES_OF_THREE if self.take(r)), None)
        if role is None:
            raise self.error("no wheel of a pair is called that", mend)
        return role


_ORDINALS = (
    *("first 1st", "second 2nd", "third 3rd", "fourth 4th"),
    *("fifth 5th", "sixth 6th", "seventh 7th", "eighth 8th"),
)
#: What the trade calls a gear, small letters, to the name that it means here.
_TRADE_NAMES = {
    **{word: str(n) for n, words in enumerate(_ORDINALS, start=1) for word in words.split()},
    **dict.fromkeys(("reverse", "rev", "r"), REVERSE),
    **{name: name for name in (INPUT, OUTPUT, "final")},
}
_SPACED = re.compile(r"\s*([=/:@])\s*")
#: Below this no gear of a box turns: turns in and out were written the wrong way round.
LEAST_GEAR_RATIO = 0.5
#: More of a box than any has was pasted by mistake, and would take for ever to weigh.
MOST_WHEELS, MOST_TURNS = 200, 100


def trade_name(name: str) -> str:
    """Return the name that a word of the trade means (`first`: `1`, `rev`: `R`), else the same."""
    return _TRADE_NAMES.get(name.casefold(), name)


def split_words(words: Iterable[str]) -> list[str]:
    """Return typed text as words of the notation, without the spaces round their signs."""
    return _SPACED.sub(r"\1", " ".join(words)).split()


def parse_seen(words: Iterable[str]) -> Seen:
    """Read all words of a box, with the trade's names as the ones they mean.

    Raises UserError at the first that cannot be read, and for more than any box has.
    """
    listed = list(words)
    if not all(word.strip() for word in listed):
        raise UserError("an empty word was read", mend=FORMS)
    found = named(Seen(tuple(parse_word(word) for word in split_words(listed))), ())
    refuse_too_many(found)
    return found


def refuse_too_many(seen: Seen) -> None:
    """Raise UserError where more was counted or turned than any box has."""
    for what, number, most in (
        ("wheels", len({count.wheel for count in seen.counts}), MOST_WHEELS),
        ("turn tests", len(seen.turns), MOST_TURNS),
    ):
        if number > most:
            sentence = f"a box has at most {most} {what}, and {number:,} were written"
            raise UserError(sentence, mend="write those of one box")


def together(seen: Seen) -> Seen:
    """Return the same with equal counts of one wheel in one word: so many times.

    Words stand where they were first written. Pairs and turn tests stay as often as they were, and
    the last word of all stays as it is: screens speak of them one by one.
    """
    if not seen.words:
        return seen
    *before, last = seen.words
    texts = list(map(attrgetter("text"), before))
    times = Counter(texts)
    first = dict(zip(reversed(texts), reversed(range(len(texts))), strict=True))
    kept = [w for at, w in enumerate(before) if w.wheel is None or first[w.text] == at]
    words = [
        replace(w, counts=tuple(replace(c, times=c.times * times[w.text]) for c in w.counts))
        if w.wheel is not None and times[w.text] > 1
        else w
        for w in kept
    ]
    return replace(seen, words=(*words, last))


def named(
    seen: Seen, names: Iterable[str], meant: Callable[[str, Sequence[str]], str] | None = None
) -> Seen:
    """Return what was seen with every pair and gear called as `names` have it.

    A name is looked for as it was typed, then as the trade means it, in small or large letters.
    With `meant`, which gives the mend for a name that none is like, such a name is refused with
    UserError unless it is a number.
    """
    known = list(dict.fromkeys(names))
    alike = {trade_name(name).casefold(): name for name in reversed(known)}
    renamed = {name: name for name in known}

    def right(name: str, word: Word) -> str:
        if name not in renamed:
            trade = trade_name(name)
            found = alike.get(trade.casefold())
            if found is None and meant is not None and not is_numbered(trade):
                sentence = f"nothing is called {name} in any family that was asked"
                raise UserError(sentence, word.text, meant(name, known))
            renamed[name] = trade if found is None else found
        return renamed[name]

    return replace(seen, words=tuple(_renamed(word, right) for word in seen.words))


def _renamed(word: Word, right: Callable[[str, Word], str]) -> Word:
    """The same word with other names, in its text too."""
    if word.turn is not None:
        gears = tuple(right(gear, word) for gear in word.turn.gears)
        text = "+".join(gears) + word.text[word.text.index("@") :]
        return replace(word, text=text, turn=replace(word.turn, gears=gears))
    old = word.pair if word.pair is not None else (word.wheel or "").partition(".")[0]
    new = right(old, word)
    if new == old:
        return word
    return replace(
        word,
        text=new + word.text[len(old) :],
        counts=tuple(replace(c, wheel=new + c.wheel[len(old) :]) for c in word.counts),
        pair=None if word.pair is None else new,
        wheel=None if word.wheel is None else new + word.wheel[len(old) :],
    )


def refuse_other_pairs(seen: Seen) -> None:
    """Raise UserError where a pair stands twice with other teeth, or with and without an idler.

    Nobody counts both wheels of a pair wrong at once: one of the two was another pair.
    """
    first: dict[str, Word] = {}
    for word in seen.words:
        if word.pair is None:
            continue
        before = first.setdefault(word.pair, word)
        teeth = {c.wheel: c.teeth for c in before.counts}
        other = [c for c in word.counts if teeth.get(c.wheel, c.teeth) != c.teeth]
        if other or before.size != word.size:
            mend = "write the pair once, with its idler if it has one"
            if before.size == word.size:
                again = f"{other[0].wheel}={other[0].teeth}"
                mend = f"to count a wheel again write {before.text} {again}"
            sentence = f"{before.text} and {word.text}: was one of them another pair?"
            raise UserError(sentence, mend=mend)


@lru_cache(2_000)
def parse_word(text: str) -> Word:
    """Read one word of the notation; raise UserError with the character where it goes wrong."""
    if not text:
        raise UserError("an empty word was read", mend=FORMS)
    scan = Scanner(text)
    name = scan.name()
    if scan.take("="):
        mend = f"write driver/driven, for example {name}=14/31, or driver/idler/driven"
        return _counts(scan, name, mend, f", or one wheel: {name}.driver=14")
    if scan.take("."):
        return _wheel(scan, name)
    if scan.peek() in ("@", "+"):
        return _turn(scan, name)
    loose = "; counts of a loose piece go to 'cogtally piece'" if is_numbered(text) else ""
    raise scan.error("'=', '.' or '@' is missing after the name", FORMS + loose)


def parse_count(text: str, wheel: str) -> Count | None:
    """Read one count (`24`, `24u`, `24ux3`; None for `_`) of `wheel`; raise UserError."""
    scan = Scanner(text)
    count = scan.count(wheel)
    scan.end("a count is a number of teeth, u for unsure, x3 for three times: 24, 24u, 24x3, _")
    return count


def parse_name(text: str, option: str = "") -> str:
    """Read the name of a gear or pair that stands alone; raise UserError.

    Where the text was given to an `option`, its name stands before the text in an error.
    """
    scan = Scanner(text, option)
    mend = "a name has letters, digits and '-', for example 4 or R1"
    name = scan.name(mend)
    scan.end(mend)
    return name


def parse_chain(text: str, pair: str, mend: str, option: str = "") -> Word:
    """Read the counts of `pair` written without its name, `9/41`; raise UserError with `mend`."""
    return _counts(Scanner(text, option), pair, mend)


def parse_path(text: str, option: str = "") -> tuple[str, tuple[str, ...]]:
    """Read a spelled-out path, `R=input,R1,R2`, as a gear and its pairs; raise UserError."""
    mend = "write GEAR=PAIR,PAIR, for example R=input,R1,R2"
    scan = Scanner(text, option)
    gear = scan.name(mend)
    if not scan.take("="):
        raise scan.error("'=' is missing after the gear", mend)
    pairs = [scan.name(mend)]
    while scan.take(","):
        pairs.append(scan.name(mend))
    scan.end(mend)
    return gear, tuple(pairs)


def written_count(teeth: int | None, unsure: bool = False) -> str:
    """Return a count as it is written: `24`, `24u`, or `_` where there is none."""
    return "_" if teeth is None else f"{teeth}{'u' if unsure else ''}"


def _counts(scan: Scanner, name: str, mend: str, or_one_wheel: str = "") -> Word:
    found: list[Count | None] = [scan.count("", mend)]
    while scan.take("/"):
        if len(found) == 3:
            raise scan.error("a pair has two wheels, or three with an idler", mend, back=1)
        found.append(scan.count("", mend))
    if len(found) == 1:
        if scan.peek():
            scan.end(mend)
        raise scan.error("one count alone is no pair", mend + or_one_wheel)
    scan.end(mend)
    names = wheel_names(name, len(found))
    counts = tuple(
        Count(wheel, c.teeth, c.unsure, c.times)
        for wheel, c in zip(names, found, strict=True)
        if c is not None
    )
    return Word(scan.text, counts, pair=name, size=len(found))


def _wheel(scan: Scanner, name: str) -> Word:
    mend = f"write {name}.driver=14, {name}.idler=20 or {name}.driven=31"
    wheel = f"{name}.{scan.role(mend)}"
    if not scan.take("="):
        raise scan.error("'=' is missing after the wheel", mend)
    count = scan.count(wheel, mend)
    scan.end(mend)
    return Word(scan.text, () if count is None else (count,), wheel=wheel)


def _turn(scan: Scanner, first: str) -> Word:
    gears = [first]
    mend = f"write gear@turns-in:turns-out, for example {first}@4:1.1 or {first}@1:7/24"
    while scan.take("+"):
        gears.append(scan.name())
    if not scan.take("@"):
        raise scan.error("'@' is missing after the gear", mend)
    turns_in, in_is_whole = scan.turns(mend)
    if not scan.take(":"):
        raise scan.error("':' is missing between turns in and turns out", mend)
    turns_out, out_is_whole = scan.turns(mend)
    held = scan.take("/held")
    scan.end(mend + ", with /held at the end where one wheel was held")
    if not LEAST_TURN_RATIO <= turns_in / turns_out <= MOST_TURN_RATIO:
        ratio = f"{float(turns_in / turns_out):.3g}"
        sentence = f"turns in over turns out is {ratio}, outside 0.2 to 20"
        mend = "turn again and write turns in before the colon, turns out behind it"
        raise UserError(sentence, scan.shown(), mend)
    backwards = turns_out.denominator == 1 != turns_in.denominator
    if backwards and turns_in / turns_out < LEAST_GEAR_RATIO:
        before, _, turned = scan.text.partition("@")
        one, _, other = turned.removesuffix("/held").partition(":")
        tail = "/held" if held else ""
        mend = f"did you mean {before}@{other}:{one}{tail}?"
        raise UserError("turns in come before the colon, turns out behind it", scan.shown(), mend)
    turn = Turn(tuple(gears), turns_in, turns_out, out_is_whole and not in_is_whole, held)
    return Word(scan.text, turn=turn)
