"""The picture of a train: shafts, wheels, labels and words put together on a page.

What it shows is left to `subject`, where it stands to `layout`, the signs to
`symbols`, the words at them to `labels`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from cogtally.gears.trains import FINAL
from cogtally.show.drawing.primitives import (
    GREY,
    INK,
    Box,
    Drawing,
    Group,
    Item,
    Page,
    Pen,
    Polyline,
    placed,
)
from cogtally.show.drawing.text import extent_of, paragraph, text_box
from cogtally.show.train.key import key_items
from cogtally.show.train.labels import SMALL, head_items, label_items
from cogtally.show.train.layout import plan
from cogtally.show.train.plan import JOINT, Plan, Shaft
from cogtally.show.train.power import Power, axle_alone, power
from cogtally.show.train.subject import Subject
from cogtally.show.train.symbols import (
    BAND,
    FAINT,
    POWER,
    Look,
    arrow_sign,
    carrier_sign,
    joint_sign,
    shaft_sign,
    tie_sign,
    wheel_sign,
)

#: Heights of letters in millimetres.
TITLE, WORDS = 5.4, 4.0
MARGIN = 6.0
#: Room for the names of shafts at either side.
SIDE = 25.0
NARROWEST = 130.0
#: What a short shaft without a name is called among the groups of a drawing.
BESIDE = "beside"


@dataclass(frozen=True, slots=True)
class Picture:
    """The bare picture of a train, and the rectangle that it fills."""

    items: tuple[Item, ...]
    box: Box
    plan: Plan
    power: Power | None


def train_drawing(subject: Subject) -> Drawing:
    """Return a page with the picture of a train under its title, what is to be said below."""
    return _page(subject, bare=False)


def bare_drawing(subject: Subject) -> Drawing:
    """Return a page with the picture of a train and what its signs mean, without other words."""
    return _page(subject, bare=True)


def _page(subject: Subject, *, bare: bool) -> Drawing:
    picture = train_picture(subject)
    width = max(picture.box.width + 2 * MARGIN, NARROWEST)
    left, right, y = MARGIN, width - MARGIN, MARGIN
    words: list[Item] = []

    def write(text: str, size: float, **look: Any) -> None:
        nonlocal y
        lines, end = paragraph(text, left, right, y, size, **look)
        words.extend(lines)
        y = end + 0.35 * size

    if not bare:
        write(subject.title, TITLE, bold=True)
        if subject.said:
            write(subject.said, WORDS)
        y += 3.0
    x = (width - picture.box.width) / 2 - picture.box.left
    body = placed(picture.items, x, y - picture.box.top)
    y += picture.box.height + 4.0
    for remark in () if bare else subject.remarks:
        write(remark, WORDS)
    key, y = key_items(subject, picture.plan, left, right, y + 1.0)
    for caution in () if bare else subject.cautions:
        write(caution, SMALL, colour=GREY)
    items = (Group("train", body), Group("words", tuple(words)), *key)
    page = Page(width, y + MARGIN, items)
    return Drawing((page,), subject.title, subject.about())


def train_picture(subject: Subject) -> Picture:
    """Return the picture of a train alone: no title, no words below."""
    found = plan(subject.train, subject.joints, subject.teeth, subject.order, axle=subject.axle)
    way = None
    if subject.gear is not None:
        way = power(found, subject.train, subject.joints, subject.gear, axle=subject.axle)
    items = [*_band(way), *_shafts(subject, found, way), *_wheels(subject, found, way)]
    items += label_items(subject, found, items)
    items += head_items(subject, found, extent_of(items).top)
    return Picture(tuple(items), extent_of(items), found, way)


def _band(way: Power | None) -> list[Item]:
    if way is None:
        return []
    pen = Pen(BAND, POWER)
    return [Group("power", tuple(Polyline(line, pen) for line in way.lines))]


def _look(way: Power | None, *, strong: bool) -> Look:
    if way is None:
        return Look()
    return Look(INK, 1.4) if strong else Look(FAINT, 0.8)


def _shafts(subject: Subject, found: Plan, way: Power | None) -> list[Item]:
    items: list[Item] = []
    touched = {y for line in (way.lines if way else ()) for _, y in line}
    for place, shaft in enumerate(found.shafts):
        look = _look(way, strong=shaft.y in touched)
        signs = list(shaft_sign(shaft, look))
        if place == 0:
            signs += arrow_sign(shaft.start + 4, shaft.y, look)
        if place == len(found.shafts) - 1 and not subject.axle and not axle_alone(subject.train):
            signs += arrow_sign(shaft.end + 2, shaft.y, look)
        items.append(
            Group(f"shaft {shaft.name or BESIDE}", (*signs, *_shaft_name(subject, found, shaft)))
        )
    if JOINT in found.columns:
        locked = way is not None and not way.wheels - {f"{FINAL}.driver", f"{FINAL}.driven"}
        items += joint_sign(
            found.columns[JOINT], found.enters[1], _look(way, strong=locked), locked=locked
        )
    if found.planet is not None:
        sun = next(w for w in found.wheels.values() if not w.ring)
        signs = list(carrier_sign(found.planet, sun, found.shafts[0].end, Look()))
        items.append(Group("planets", tuple(signs), "planets on their carrier; the sun is held"))
    for tie in found.ties:
        strong = way is not None and tie.wheels in way.ties
        name = " and ".join(tie.wheels)
        items.append(Group(f"mesh {name}", tie_sign(tie, _look(way, strong=strong))))
    return items


def _shaft_name(subject: Subject, found: Plan, shaft: Shaft) -> tuple[Item, ...]:
    """Return the name of a shaft at its free end; of one that an axle ends, over that end."""
    if shaft is not found.shafts[-1] or shaft.y != found.enters[1] or len(found.shafts) == 1:
        box = Box(shaft.start - SIDE, shaft.y - 6, shaft.start - 2, shaft.y + 6)
        return text_box(shaft.name, box, WORDS, anchor="end", upright="middle")
    if subject.axle:
        box = Box(shaft.end - SIDE, shaft.y - 8, shaft.end - 4, shaft.y - 2.5)
        return text_box(shaft.name, box, WORDS, anchor="end", upright="bottom")
    box = Box(shaft.end + 4, shaft.y - 6, shaft.end + SIDE, shaft.y + 6)
    return text_box(shaft.name, box, WORDS, upright="middle")


def _wheels(subject: Subject, found: Plan, way: Power | None) -> list[Item]:
    hollow = {shaft.y: shaft.start for shaft in found.shafts if shaft.hollow}
    items: list[Item] = []
    # Strong rims lie over faint ones.
    names = sorted(found.wheels, key=lambda name: way is not None and name in way.wheels)
    for name in names:
        wheel, label = found.wheels[name], subject.labels[name]
        signs = wheel_sign(
            wheel,
            _look(way, strong=way is not None and name in way.wheels),
            known=label.known,
            hollow=wheel.y in hollow and wheel.x >= hollow[wheel.y],
            locked=way is not None and way.locked == name,
        )
        items.append(Group(f"wheel {name}", signs, f"{name} {label.words}"))
    return items
