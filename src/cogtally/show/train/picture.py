"""The picture of a train: shafts, wheels, sleeves, labels and words put together on a page.

What it shows is left to `subject`, where it stands to `plan`, the signs to `symbols`, the words at
them to `labels`, the way of power to `power`.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

from cogtally.gears.turning import OUTPUT_SHAFT
from cogtally.show import drawing as draw
from cogtally.show.train import symbols
from cogtally.show.train.labels import SIDE, Letters, Power, head_items, label_items, power
from cogtally.show.train.places import FIXED, FREE, SLIDES, Placed, Plan, Shaft, Sleeve, stretched
from cogtally.show.train.plan import Subject
from cogtally.show.train.subject import ALL_GEARS

#: Heights of letters in millimetres.
TITLE, WORDS, SMALL = 5.4, 4.0, Letters().small
MARGIN = 6.0
NARROWEST = 130.0
#: What a short shaft without a name is called among the groups of a drawing.
BESIDE = "beside"
#: A letter is so high for each millimetre of a picture's width that it has 11 pixels on a telephone
#: of 390, of which the page leaves it 350.
LEAST_ON_PHONE = 11.0 / 350.0
#: How large an end view is beside the train.
_END_VIEW = 0.6
#: Between rows of a legend, and the highest sign that stands in one.
_ROW, _HIGHEST_SIGN = 7.0, 6.0
#: How large the trains of a strip of all gears are, and how many stand side by side.
_STRIP, _ABREAST = 0.7, 2


@dataclass(frozen=True, slots=True)
class Picture:
    """The bare picture of a train, and the rectangle that it fills."""

    items: tuple[draw.Item, ...]
    box: draw.Box
    plan: Plan
    power: Power | None


def narrow_drawing(subject: Subject) -> draw.Drawing:
    """Return the train alone, in letters that are read on a telephone 390 pixels wide."""
    short = replace(
        subject, labels={w: replace(one, called="") for w, one in subject.labels.items()}
    )
    small, drawing = 5.0, None
    while drawing is None or small < LEAST_ON_PHONE * drawing.pages[0].width:
        small *= 1.06
        picture = train_picture(short, Letters(1.15 * small, small), view=False, names=False)
        width = picture.box.width + 2 * MARGIN
        items = draw.placed(picture.items, MARGIN - picture.box.left, MARGIN - picture.box.top)
        page = draw.Page(width, picture.box.height + 2 * MARGIN, (draw.Group("train", items),))
        drawing = draw.Drawing((page,), subject.title, subject.about())
    return drawing


def gear_drawing(subject: Callable[[str | None], Subject], gear: str | None) -> draw.Drawing:
    """Return the page of what `subject` gives for a gear, or of every gear for ALL_GEARS."""
    return strip_drawing(subject) if gear == ALL_GEARS else train_drawing(subject(gear))


def strip_drawing(subject: Callable[[str | None], Subject]) -> draw.Drawing:
    """Return one page with the way of power in each gear, the lowest first."""
    rest = subject(None)
    shown = [subject(gear) for gear in rest.train.gears] or [rest]
    pictures = [train_picture(one, view=False) for one in shown]
    wide = max(p.box.width for p in pictures) * _STRIP + MARGIN
    width = MARGIN + min(_ABREAST, len(pictures)) * wide
    words, y = draw.paragraph(rest.title, MARGIN, width - MARGIN, MARGIN, TITLE, bold=True)
    items: list[draw.Item] = [draw.Group("words", words)]
    y += 4.0
    for first in range(0, len(pictures), _ABREAST):
        row = list(zip(shown, pictures, strict=True))[first : first + _ABREAST]
        for place, (one, picture) in enumerate(row):
            x = MARGIN + place * wide
            head = _gear_title(one)
            items.append(draw.Text(x, y + WORDS, head, WORDS, bold=True))
            at = (x - picture.box.left * _STRIP, y + 8.0 - picture.box.top * _STRIP)
            items.append(draw.Group(f"gear {one.gear}", draw.placed(picture.items, *at, _STRIP)))
        y += 14.0 + max(picture.box.height for _, picture in row) * _STRIP
    first_one = shown[0], pictures[0].plan, pictures[0].power
    key, y = _key_items(*first_one, MARGIN, width - MARGIN, y, one=False)
    items += key
    for caution in rest.cautions:
        lines, y = draw.paragraph(caution, MARGIN, width - MARGIN, y, SMALL, colour=draw.GREY)
        items += lines
    about = " ".join(_gear_title(one) for one in shown)
    return draw.Drawing((draw.Page(width, y + MARGIN, tuple(items)),), rest.title, about)


def _gear_title(subject: Subject) -> str:
    gear = subject.gear or ""
    ratio = subject.heads.get(gear, "1.000" if gear == subject.train.direct else "")
    return f"Gear {gear}  {ratio}".strip()


def train_drawing(subject: Subject, *, bare: bool = False) -> draw.Drawing:
    """Return a page with the picture of a train under its title, what is to be said below.

    `bare`: with what its signs mean alone, without other words.
    """
    picture = train_picture(subject)
    width = max(picture.box.width + 2 * MARGIN, NARROWEST)
    left, right, y = MARGIN, width - MARGIN, MARGIN
    words: list[draw.Item] = []

    def write(text: str, size: float, **look: Any) -> None:
        nonlocal y
        # In a wider font of another machine the lines still end on the page.
        edge = left + (right - left) * (0.78 if look.get("bold") else 0.88)
        lines, end = draw.paragraph(text, left, edge, y, size, **look)
        words.extend(lines)
        y = end + 0.35 * size

    if not bare:
        write(subject.title, TITLE, bold=True)
        if subject.said:
            write(subject.said, WORDS)
        y += 3.0
    x = (width - picture.box.width) / 2 - picture.box.left
    drawn = draw.placed(picture.items, x, y - picture.box.top)
    y += picture.box.height + 4.0
    if picture.power is not None and not bare:
        told = (f"({n}) {said}" for n, (_, said) in enumerate(picture.power.steps, 1))
        write(f"Under load: {', '.join(told)}.", WORDS)
    for remark in () if bare else subject.remarks:
        write(remark, WORDS)
    key, y = _key_items(subject, picture.plan, picture.power, left, right, y + 1.0)
    for caution in () if bare else subject.cautions:
        write(caution, SMALL, colour=draw.GREY)
    items = (draw.Group("train", drawn), draw.Group("words", tuple(words)), *key)
    page = draw.Page(width, y + MARGIN, items)
    return draw.Drawing((page,), subject.title, subject.about())


def train_picture(
    subject: Subject, letters: Letters | None = None, *, view: bool = True, names: bool = True
) -> Picture:
    """Return the picture of a train alone: no title, no words below.

    `view`: a reverse idler is shown from the end too; `names`: shafts have their names.
    """
    letters = letters or Letters()
    found = subject.plan(slid=not letters.box)
    if letters.wide != 1.0 and found.planets is None and subject.train.layout != "axle":
        found = stretched(found, letters.wide)
    way = power(subject, found, subject.gear) if subject.gear is not None else None
    band = (
        tuple(draw.Polyline(line, draw.Pen(symbols.BAND, symbols.POWER)) for line in way.lines)
        if way
        else ()
    )
    bodies = [
        symbols.body(wheel) for name, wheel in found.wheels.items() if name in subject.hatches
    ]
    steps = []
    for number, ((x, y), _) in enumerate(way.steps if way else (), 1):
        at = (x, y + 0.36 * letters.small)
        figure = draw.Text(*at, str(number), letters.small, "middle", bold=True)
        steps.append(draw.Group(f"step {number}", (*symbols.step_sign(x, y), figure)))
    items = [
        *bodies,
        *([draw.Group("power", band)] if way else []),
        *_shafts(subject, found, way, letters if names else None),
        *_wheels(subject, found, way),
        *steps,
    ]
    if view and not letters.box:
        items += _end_view(subject, found, draw.extent_of(items), letters)
    items += label_items(subject, found, items, letters)
    items += head_items(subject, found, draw.extent_of(items).top, letters, whole=names)
    hatching = [
        draw.Group(
            f"hatching {name}", symbols.hatch_sign(symbols.body(wheel), subject.hatches[name])
        )
        for name, wheel in found.wheels.items()
        if name in subject.hatches
    ]
    items = [*bodies, *hatching, *items[len(bodies) :]]
    return Picture(tuple(items), draw.extent_of(items), found, way)


def _look(way: Power | None, *, strong: bool) -> symbols.Look:
    if way is None:
        return symbols.Look()
    return symbols.Look(draw.INK, 1.4) if strong else symbols.Look(symbols.FAINT, 0.8)


def _shafts(
    subject: Subject, found: Plan, way: Power | None, letters: Letters | None
) -> list[draw.Item]:
    items: list[draw.Item] = []
    touched = {y for line in (way.lines if way else ()) for _, y in line}
    drives = subject.train.layout != "axle"
    for place, shaft in enumerate(found.shafts):
        look = _look(way, strong=shaft.y in touched)
        signs = list(symbols.shaft_sign(shaft, look))
        last = place == len(found.shafts) - 1 and drives and not subject.axle
        if place == 0:
            signs += symbols.arrow_sign(shaft.start + 3.5, shaft.y, look)
        if last:
            signs += symbols.arrow_sign(shaft.end + 2, shaft.y, look)
        signs += _turns(subject, found, shaft, way, look)
        named = _shaft_name(subject, found, shaft, letters) if letters else ()
        items.append(draw.Group(f"shaft {shaft.name or BESIDE}", (*signs, *named)))
    for sleeve in found.sleeves:
        gears = [g for g in (sleeve.left, sleeve.right) if g is not None]
        look = _look(way, strong=way is not None and subject.gear in gears)
        name = f"sleeve {' '.join(gears)}"
        items.append(draw.Group(name, symbols.sleeve_sign(sleeve, look, subject.gear)))
    if found.planets is not None:
        signs = list(symbols.planets_sign(found.planets, _look(way, strong=True)))
        about = "planets on their carrier; the sun is held"
        items.append(draw.Group("planets", tuple(signs), about))
    for tie in found.ties:
        strong = way is not None and tie.wheels in way.ties
        name = " and ".join(tie.wheels)
        items.append(draw.Group(f"mesh {name}", symbols.tie_sign(tie, _look(way, strong=strong))))
    return items


def _turns(
    subject: Subject, found: Plan, shaft: Shaft, way: Power | None, look: symbols.Look
) -> tuple[draw.Item, ...]:
    """Return which way a shaft turns, beside its bearing."""
    if way is None or subject.train.layout == "axle":
        return ()
    piece = shaft.name
    if not piece:
        on = [w for w in found.wheels.values() if w.y == shaft.y]
        piece = subject.joints.piece_of[on[0].name] if on else ""
    elif shaft is found.shafts[-1]:
        piece = subject.joints.piece_of[OUTPUT_SHAFT]
    if piece not in way.ways:
        return ()
    x = shaft.start + 1.8
    if shaft is found.shafts[0]:
        x = shaft.start + 10.0
    elif shaft.spigot and subject.overdrive:
        x = shaft.bearings[0] + 5.0
    elif shaft is found.shafts[-1] or not shaft.name:
        x = shaft.end - 2.6
    return symbols.turns_sign(x, shaft.y, way.ways[piece], look)


def _shaft_name(
    subject: Subject, found: Plan, shaft: Shaft, letters: Letters
) -> tuple[draw.Item, ...]:
    """Return the name of a shaft at its free end; of one that an axle ends, over that end."""
    size = letters.small if letters.box else 1.1 * letters.small
    side = 5.2 * size if letters.box else SIDE
    if subject.overdrive and shaft is found.shafts[-1]:
        return ()
    if shaft is not found.shafts[-1] or shaft.y != found.enters[1] or len(found.shafts) == 1:
        box = draw.Box(shaft.start - side, shaft.y - 9, shaft.start - 2, shaft.y + 9)
        if subject.overdrive and shaft is found.shafts[-2] and len(found.shafts) > 2:
            box = draw.Box(shaft.end - side - 4, shaft.y - 14, shaft.end - 4, shaft.y - 6)
            return draw.text_box(shaft.name, box, size, anchor="end", upright="bottom")
        return draw.text_box(shaft.name, box, size, anchor="end", upright="middle")
    if subject.axle:
        box = draw.Box(shaft.end - side, shaft.y - 14, shaft.end - 4, shaft.y - 6)
        return draw.text_box(shaft.name, box, size, anchor="end", upright="bottom")
    box = draw.Box(shaft.end + 4, shaft.y - 9, shaft.end + side, shaft.y + 9)
    return draw.text_box(shaft.name, box, size, upright="middle")


def _wheels(subject: Subject, found: Plan, way: Power | None) -> list[draw.Item]:
    hollow = {shaft.y: shaft.start for shaft in found.shafts if shaft.hollow}
    items: list[draw.Item] = []
    # Strong rims lie over faint ones.
    names = sorted(found.wheels, key=lambda name: way is not None and name in way.wheels)
    for name in names:
        wheel, label = found.wheels[name], subject.labels[name]
        look = _look(way, strong=way is not None and name in way.wheels)
        on_sleeve = wheel.y in hollow and wheel.x >= hollow[wheel.y]
        signs = [*symbols.wheel_sign(wheel, look, known=label.known, hollow=on_sleeve)]
        signs += _dogs(subject, found, wheel, look)
        items.append(draw.Group(f"wheel {name}", tuple(signs), f"{name} {label.words}"))
        if wheel.ghosts:
            items.append(
                draw.Group(f"slides {name}", symbols.ghost_sign(wheel, symbols.Look(symbols.FAINT)))
            )
    return items


def _dogs(subject: Subject, found: Plan, wheel: Placed, look: symbols.Look) -> Iterator[draw.Item]:
    """Yield the dogs of a wheel on the side of the sleeve that locks it."""
    for sleeve in found.sleeves:
        for gear, side in ((sleeve.left, 1), (sleeve.right, -1)):
            if gear is None or sleeve.y != wheel.y:
                continue
            lock = subject.joints.locks.get(gear)
            at_end = lock is None and subject.train.layout == "sleeve" and wheel.x > sleeve.x
            if (lock is not None and lock.wheel == wheel.name) or at_end:
                yield from symbols.dog_sign(wheel.x, wheel.y, side, look)


def _end_view(subject: Subject, found: Plan, beside: draw.Box, letters: Letters) -> list[draw.Item]:
    """Return wheels of three axes as circles, seen from the end, where an idler joins two of them.

    The two main axes are as far apart as in the picture, the idler where it meets both.
    """
    mains = found.enters[1], max((s.y for s in found.shafts if s.name), default=0.0)
    wheels = found.wheels
    for shaft in found.shafts:
        if shaft.name or shaft.y in mains:
            continue
        touching: dict[float, tuple[str, str]] = {}
        for mesh in subject.joints.meshes:
            for own, mate in (mesh.wheels, mesh.wheels[::-1]):
                if own in wheels and mate in wheels and wheels[own].y == shaft.y:
                    touching.setdefault(wheels[mate].y, (own, mate))
        if not all(main in touching for main in mains):
            continue
        (own_up, up), (own_low, low) = (touching[main] for main in mains)
        a = wheels[up].radius + wheels[own_up].radius
        b = wheels[low].radius + wheels[own_low].radius
        apart = min(mains[1] - mains[0], 0.98 * (a + b))
        apart = max(apart, 1.02 * abs(a - b))
        y = (a * a - b * b + apart * apart) / (2 * apart)
        centres = {up: (0.0, 0.0), low: (0.0, apart)}
        for own in (own_up, own_low):
            centres[own] = (sqrt(max(0.0, a * a - y * y)), y)
        return [_circles(subject, found, centres, beside, letters)]
    return []


def _circles(
    subject: Subject,
    found: Plan,
    centres: dict[str, tuple[float, float]],
    beside: draw.Box,
    letters: Letters,
) -> draw.Item:
    items: list[draw.Item] = []
    small = letters.small
    texts: dict[tuple[float, float], list[str]] = {}
    for name, (x, y) in centres.items():
        radius = found.wheels[name].radius * _END_VIEW
        dash = None if subject.labels[name].known else symbols.DASH
        pen = draw.Pen(0.5, draw.INK, dash)
        items.append(draw.Ellipse(x * _END_VIEW, y * _END_VIEW, radius, radius, pen))
        label = subject.labels[name]
        texts.setdefault((x, y), []).append(label.beside or label.text)
    for (x, y), counts in texts.items():
        at = (x * _END_VIEW, y * _END_VIEW + 0.36 * small)
        said = draw.Text(*at, "/".join(dict.fromkeys(counts)), small, "middle", bold=True)
        room = draw.extent(said)
        # A small circle is narrower than its counts: white under them, so that they are read.
        items.append(draw.Rectangle(room.left, room.top, room.width, room.height, None, draw.WHITE))
        items.append(said)
    box = draw.extent_of(items)
    width = draw.text_width("from the end", small)
    left = min(box.left, (box.left + box.right - width) / 2)
    items.append(
        draw.Text((box.left + box.right) / 2, box.bottom + 5.0, "from the end", small, "middle")
    )
    x = found.width + 8.0
    if beside.bottom - box.height - 14.0 < found.enters[1]:
        x = beside.right + 6.0
    at = (x - left, beside.bottom - box.bottom - 5.0)
    return draw.Group("end view", draw.placed(items, *at), "The reverse wheels seen from the end.")


def _key_items(
    subject: Subject,
    found: Plan,
    way: Power | None,
    left: float,
    right: float,
    top: float,
    *,
    one: bool = True,
) -> tuple[list[draw.Item], float]:
    """Return what the signs mean in rows between two edges, and where the rows end."""
    x, y = left, top
    items: list[draw.Item] = []
    for name, signs, words in _meanings(subject, found, way, one):
        box = draw.extent_of(signs)
        scale = min(1.0, _HIGHEST_SIGN / box.height)
        room = 1.1 * box.width * scale + 2.0
        size = SMALL * min(1.0, (right - left - room) / draw.text_width(words, SMALL))
        width = room + draw.text_width(words, size)
        if x > left and x + width > right:
            x, y = left, y + _ROW
        base = y + 4.0
        text = draw.Text(x + room, base, words, size)
        middle = (box.top + box.bottom) / 2
        signs = draw.placed(signs, x - box.left * scale, base - 1.2 - middle * scale, scale)
        items.append(draw.Group(f"key {name}", (*signs, text)))
        x += 1.12 * width + 6.0
    return items, y + (_ROW + 1.0 if items else 0.0)


def _meanings(
    subject: Subject, found: Plan, way: Power | None, one: bool
) -> Iterator[tuple[str, Sequence[draw.Item], str]]:
    """Yield the sets that pieces are of, then every sign that occurs, each with its words.

    `one`: of the one gear that is drawn, not of several side by side.
    """
    labels = subject.labels.values()
    for kind, words in subject.sets:
        blank = (draw.Rectangle(0.0, -2.2, 8.0, 4.4, draw.Pen(0.3, draw.INK, symbols.DASH)),)
        yield f"set {words}", blank if kind is None else symbols.swatch(kind), words
    if any(label.marked for label in labels):
        yield "differs", symbols.mark_sign(symbols.TRIANGLE * 0.6, 0.0), "does not agree"
    look = symbols.Look()
    shaft = draw.Line((0.0, 0.0), (8.0, 0.0), look.pen(0.9))
    seats = {wheel.seat for wheel in found.wheels.values()}
    if FIXED in seats:
        yield "fixed", (shaft, *symbols.cross_sign(4.0, 0.0, look)), "fixed on its shaft"
    if FREE in seats:
        free = symbols.free_sign(4.0, 0.0, look)
        yield "free", (shaft, *free), "runs free until its gear locks it"
    if SLIDES in seats:
        bar = draw.Line((4.0, -2.6), (4.0, 2.6), look.pen(0.7))
        yield "slides", (shaft, bar, *symbols.slides_sign(4.0, 0.0, look)), "slides on splines"
    if found.sleeves:
        sleeve = symbols.sleeve_sign(Sleeve(4.0, 0.0, None, None), look, None)
        yield "sleeve", (shaft, *sleeve), "sleeve on its hub, out of gear"
    if way and any(subject.gear in (s.left, s.right) for s in found.sleeves):
        dogs = (*symbols.free_sign(8.0, 0.0, look), *symbols.dog_sign(8.0, 0.0, -1, look))
        moved = symbols.sleeve_sign(Sleeve(0.0, 0.0, None, "1"), look, "1")
        words = "sleeve moved over the dogs: it locks them to its shaft"
        yield "locked", (shaft, *dogs, *moved), words
    if any(s.spigot for s in found.shafts):
        spigot = symbols.spigot_sign(3.0, 0.0, look)
        yield "spigot", (shaft, *spigot), "one shaft runs in the end of the other"
    if any(s.bearings for s in found.shafts):
        yield "bearing", (shaft, *symbols.bearing_sign(4.0, 0.0, look)), "bearing in the casing"
    if any(w.ghosts for w in found.wheels.values()):
        ghost = (draw.Line((0.0, 0.0), (8.0, 0.0), draw.Pen(0.4, draw.INK, symbols.GHOST_DASH)),)
        yield "ghost", ghost, "where a sliding wheel comes into mesh"
    if found.planets is not None:
        planet = symbols.wheel_sign(Placed("", 4.0, 0.0, 2.6, FREE), look, known=True)
        yield "planet", planet, "planets free on their carrier"
    if way is not None:
        band = draw.Line((0.0, 0.0), (8.0, 0.0), draw.Pen(symbols.BAND, symbols.POWER))
        yield "power", (band, shaft), f"under load in gear {subject.gear}" if one else "under load"
        if way.steps:
            first = draw.Text(0.0, 0.36 * SMALL, "1", SMALL, "middle", bold=True)
            yield "steps", (*symbols.step_sign(0.0, 0.0), first), "step by step from the input"
        arrow = symbols.turns_sign(0.0, 0.0, 1, look)
        yield "turns", arrow, "the near side goes up, as the input's, or down"
    if any(not tie.parted for tie in found.ties):
        tie = (draw.Line((0.0, 0.0), (10.0, 0.0), draw.Pen(0.5, draw.INK, symbols.TIE_DASH)),)
        yield "mesh", tie, "in mesh beside the drawing plane"
    if any(not label.known for label in labels):
        rim = (draw.Line((0.0, 0.0), (8.0, 0.0), draw.Pen(1.0, draw.INK, symbols.DASH)),)
        yield "uncounted", rim, "dashed: not counted"
    if any(label.beside for label in labels) and subject.listed:
        beside = (draw.Text(0.0, 1.2, "(21)", SMALL),)
        yield "listed", beside, f"as in {subject.listed}"
