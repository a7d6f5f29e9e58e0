"""How a car on the road is called: its letter, its parts, and what is worth saying of them.

The numbers are left to `gears.road_cars`, where the words stand to the views.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.gears.road import ROLLING_TOLERANCE, Car, OnTheRoad, Tyre
from cogtally.show.ratios import decimal
from cogtally.show.screen import plain, written_list

LETTERS = "ABCDEF"
AXLE_PLACES = 4


def described(cars: Sequence[Car]) -> tuple[str, list[str]]:
    """Return what all cars have in common, as one sentence, and what each has of its own.

    A car alone has nothing of its own. Letters are not among the words.
    """
    parts = [_parts(car) for car in cars]
    same = [all(one[i] == parts[0][i] for one in parts) for i in range(len(parts[0]))]
    common = [text for text, shared in zip(parts[0], same, strict=True) if shared and text]
    if len(cars) == 1:
        return _sentence(common), []
    own = [
        ", ".join(text for text, shared in zip(one, same, strict=True) if not shared and text)
        for one in parts
    ]
    every = "Both" if len(cars) == 2 else "All"
    return (f"{every}: {', '.join(common)}." if common else ""), own


def called(found: Sequence[OnTheRoad], index: int) -> str:
    """Return the letter of a car among several; empty where it is alone."""
    return LETTERS[index] if len(found) > 1 else ""


def remarks(found: Sequence[OnTheRoad]) -> list[str]:
    """Return what must be said of the numbers: of which rule they are, and what is missing."""
    said = _Said(found)
    for index, one in enumerate(found):
        box, tyre = one.car.box, one.car.tyre
        for gear, wheels in box.missing:
            want = f": {written_list(wheels)} not counted" if wheels else ""
            said.of(index, f"No ratio for {gear}{want}; it is left out.")
        if box.printed:
            said.of(index, f"By printed ratios, not by counts: {written_list(box.printed)}.")
        if tyre.rule is not None:
            said.of_all(
                f"{plain(tyre.text)}: {tyre.rule}; take it as true within "
                f"{100 * ROLLING_TOLERANCE:g} % either way, with make, load, pressure and wear."
            )
        if tyre.note is not None:
            said.of_all(f"{plain(tyre.text)}: {tyre.note}.")
    return said.texts()


def notes(found: Sequence[OnTheRoad]) -> list[str]:
    """Return what a person may have meant otherwise, one sentence each."""
    said = _Said(found)
    for index, one in enumerate(found):
        box, axle = one.car.box, one.car.axle
        if box.assumed:
            taken = f"so the box was taken as a {box.assumed} one"
            said.of_all(f"no input or output pair is written, {taken}")
        for low, high in box.rising:
            said.of(index, f"{high} is no higher a gear than {low}; were they written right?")
        if axle.ratio < 1:
            said.of_all(f"the axle {plain(axle.text)} gears up; is it the wrong way round?")
        if box.final is not None and box.final.ratio != axle.ratio:
            own = f"{box.name or 'the box'} has a final drive of its own, {box.final.text}"
            said.of_all(f"{plain(own)}; not used here")
    return said.texts()


class _Said:
    """Sentences in order, each once, with the letters of the cars that it is true of."""

    def __init__(self, found: Sequence[OnTheRoad]) -> None:
        self._found = found
        self._said: dict[str, list[str]] = {}

    def of(self, index: int, text: str) -> None:
        """Say it of one car."""
        self._said.setdefault(text, []).append(called(self._found, index))

    def of_all(self, text: str) -> None:
        """Say it of no car in particular."""
        self._said.setdefault(text, [])

    def texts(self) -> list[str]:
        """Return the sentences, those of some cars with their letters before them."""
        return [
            f"{written_list(letters)}: {text}" if any(letters) else text
            for text, letters in self._said.items()
        ]


def _parts(car: Car) -> tuple[str, ...]:
    box = car.box
    name = "the box as written"
    if box.name:
        name = plain(box.name) + (f" ({plain(box.title)})" if box.title else "")
    axle = decimal(car.axle.ratio, AXLE_PLACES)
    written = plain(car.axle.text)
    overdrive = ""
    if car.overdrive is not None:
        ratio = decimal(car.overdrive.ratio, AXLE_PLACES)
        told = plain(car.overdrive.text)
        figure = told if told == ratio else f"{told} ({ratio})"
        overdrive = f"overdrive {figure} on {written_list(car.overdrive.on)}"
    return (
        name,
        f"axle {written}" + ("" if "/" not in written else f" ({axle})"),
        overdrive,
        f"tyre {_tyre(car.tyre)}{car.tyre.rolled_mm:.0f} mm in a turn",
    )


def _tyre(tyre: Tyre) -> str:
    """Return what was written of a tyre; nothing where that was what it rolls."""
    rolled = tyre.rule is None and "/" not in tyre.text
    return "" if rolled else f"{plain(tyre.text)}, "


def _sentence(parts: Sequence[str]) -> str:
    text = ", ".join(parts)
    return f"{text[0].upper() if text.startswith('the') else text[0]}{text[1:]}."
