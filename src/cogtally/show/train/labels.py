"""What lies over a train: the way that power takes, and the words at wheels and over columns.

Each word stands where it lies on nothing else; where a count is still to be written it is a ringed
number with boxes beside it. Where wheels stand is left to `plan`, what is said to `subject`.
"""

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from cogtally.gears.trains import FINAL, OVERDRIVE, REVERSE, wheel_names
from cogtally.gears.turning import INPUT_SHAFT, OUTPUT_SHAFT
from cogtally.show import drawing as draw
from cogtally.show.train.places import ANNULUS, JOINT, RIM, SUN, Placed, Plan
from cogtally.show.train.plan import NOT_COUNTED, Label, Subject
from cogtally.show.train.symbols import MARK, POWER, TRIANGLE, mark_sign

#: Room for the names of shafts at either side.
SIDE = 25.0
#: The widest name of a pair that is set in one line, and the widest line of a frame.
_WIDEST_HEAD, _WIDEST_FRAME = 20.0, 46.0
_AIR, _PADDING = 0.85, 1.2
#: How much wider a text may come out in the fonts of another machine.
_WIDER = 1.14
#: So far from its wheel at most a label is looked for a place, in steps.
_STEPS, _STEP = 40, 3.0


@dataclass(frozen=True, slots=True)
class Letters:
    """Heights of letters in millimetres: of counts and names of pairs, and of all else.

    `box`: the side of the boxes to write counts in, 0 where there are none; the train is then
    drawn `wide` times as long, so that they have room.
    """

    large: float = 5.0
    small: float = 3.6
    box: float = 0.0
    wide: float = 1.0


def label_items(
    subject: Subject, found: Plan, drawn: Sequence[draw.Item], letters: Letters
) -> list[draw.Item]:
    """Return every label where it lies on nothing else, as near to its wheel's outer rim as can be.

    Wheels at the rim of the picture first, for the others have more places to go.
    """
    taken = [box for item in draw.leaves(drawn) for box in _filled(item)]
    # The line to a box to write in may cross what is drawn, for nothing else leads to it.
    crossed = [] if letters.box else taken
    middle = (found.enters[1] + found.height) / 2
    items: list[draw.Item] = []
    waiting: list[tuple[Placed, _Block, Iterator[_Place]]] = []
    for name, wheel in found.wheels.items():
        label = subject.labels[name]
        block = _boxes(label, letters) if letters.box else _words(label, letters)
        places = _places(wheel, block, above=wheel.y < middle)
        if found.planets is not None and wheel is found.planets.sun:
            # There is no room inside the annulus.
            foot = max(w.foot for w in found.wheels.values() if w.ring)
            places = itertools.chain([((wheel.x - block.width / 2, foot + _AIR), None)], places)
        waiting.append((wheel, block, places))
    waiting.sort(key=lambda one: (not subject.labels[one[0].name].called, -abs(one[0].y - middle)))
    # Those that have room at their own rims first: the others have more places to go.
    later: list[tuple[Placed, _Block, Iterator[_Place], _Place]] = []

    def put(wheel: Placed, block: _Block, place: _Place) -> None:
        at, leader = place
        label = block.items(at)
        if leader is not None:
            label = (*label, draw.Line(*leader, draw.Pen(0.25, draw.GREY)))
            crossed.append(draw.extent(draw.Line(*leader)))
        taken.append(block.box(at))
        if crossed is not taken:
            crossed.append(block.box(at))
        items.append(draw.Group(f"label {wheel.name}", label))

    for wheel, block, places in waiting:
        near = list(itertools.islice(places, 2))
        place = next((p for p in near if block.is_free(p, taken, crossed)), None)
        if place is None:
            later.append((wheel, block, places, near[0]))
        else:
            put(wheel, block, place)
    for wheel, block, places, first in later:
        put(wheel, block, next((p for p in places if block.is_free(p, taken, crossed)), first))
    return items


def _filled(item: draw.Item) -> list[draw.Box]:
    """Return what a drawn thing fills; of lines with corners each part."""
    if not isinstance(item, draw.Polyline):
        return [] if isinstance(item, draw.Group) else [draw.extent(item)]
    if item.pen is not None and item.pen.colour == POWER:
        return []
    ends = zip(item.points, item.points[1:], strict=False)
    return [draw.extent(draw.Line(one, other)) for one, other in ends]


#: A place of a label's top left corner, and the line from it to its wheel where it stands off.
_Place = tuple[draw.Point, tuple[draw.Point, draw.Point] | None]


@dataclass(frozen=True, slots=True)
class _Block:
    """A label as a block, its size known before its place; `items`: what stands in it there."""

    width: float
    height: float
    items: Callable[[draw.Point], tuple[draw.Item, ...]]

    def box(self, place: draw.Point) -> draw.Box:
        """Return what it fills with its top left corner at a place."""
        x, y = place
        return draw.Box(x, y, x + self.width, y + self.height)

    def is_free(
        self, place: _Place, taken: Sequence[draw.Box], crossed: Sequence[draw.Box]
    ) -> bool:
        """Tell whether it can stand at a place, and its line lead to it."""
        at, leader = place
        box = self.box(at)
        if any(map(box.meets, taken)):
            return False
        if leader is None:
            return True
        line = draw.extent(draw.Line(*leader, draw.Pen(0.25)))
        return not any(map(line.meets, crossed))


def _words(label: Label, letters: Letters) -> _Block:
    """Return a count, with what stands beside it, below it, and in a frame."""
    small, large = letters.small, letters.large
    mark = TRIANGLE * 1.4 if label.marked else 0.0
    first = draw.text_width(label.text, large, bold=True)
    beside = draw.text_width(f" {label.beside}", small) if label.beside else 0.0
    whole = mark + first + beside
    framed = draw.wrapped_to(label.called, _WIDEST_FRAME, small) if label.called else []
    lines = [*([label.below] if label.below else []), *framed]
    padding = 2 * _PADDING if framed else 0.0
    # A frame holds its words in a wider font too, where an SVG is shown in one.
    spare = _WIDER if framed else 1.0
    width = padding + max(whole, *(draw.text_width(line, small) * spare for line in (*lines, "")))
    height = padding + large * (draw.ASCENT + draw.DESCENT) + small * draw.LEADING * len(lines)

    def items(place: draw.Point) -> tuple[draw.Item, ...]:
        x, y = place
        colour = MARK if label.marked else draw.INK
        found: list[draw.Item] = []
        if framed:
            found.append(draw.Rectangle(x, y, width, height, draw.Pen(0.4, MARK), radius=1.0))
            y += _PADDING
        start = x + (width - whole) / 2
        base = y + draw.ASCENT * large
        if label.marked:
            found += mark_sign(start + TRIANGLE * 0.6, base - large * 0.33)
        start += mark
        found.append(draw.Text(start, base, label.text, large, bold=True, colour=colour))
        if label.beside:
            space = draw.text_width(" ", small)
            found.append(draw.Text(start + first + space, base, label.beside, small))
        for line in lines:
            base += small * draw.LEADING
            found.append(draw.Text(x + width / 2, base, line, small, "middle", colour=colour))
        return tuple(found)

    return _Block(width, height, items)


def _boxes(label: Label, letters: Letters) -> _Block:
    """Return a ringed number, a box for a count, and one for a recount over or under it."""
    side, small = letters.box, letters.small
    half = 0.95 * small
    width, ring = side + 2 * half, 0.9 * half

    def items(place: draw.Point) -> tuple[draw.Item, ...]:
        x, y = place
        left, middle = x + width - side, x + half
        return (
            draw.Rectangle(left, y, side, side, draw.Pen(0.45)),
            draw.Rectangle(left, y + side, side, side, draw.Pen(0.25)),
            draw.Ellipse(middle, y + ring, ring, ring, draw.Pen(0.35)),
            draw.Text(middle, y + ring + 0.36 * small, label.text, small, "middle", bold=True),
        )

    return _Block(width, 2 * side, items)


def _places(wheel: Placed, block: _Block, *, above: bool) -> Iterator[_Place]:
    """Yield places for a label, the best first: beyond the outer rim, the inner rim, beside."""
    if wheel.level:
        middle = wheel.x - wheel.radius / 2 - block.width / 2
        yield (middle, wheel.y + RIM / 2 + _AIR), None
        yield (middle, wheel.y - RIM / 2 - _AIR - block.height), None
        for step in range(1, _STEPS):
            y = wheel.y + RIM / 2 + _AIR + step * _STEP
            for x in (middle, middle + block.width, middle - block.width):
                end = (x + block.width / 2, y)
                yield (x, y), ((wheel.x - wheel.radius / 2, wheel.y + 2 * _AIR), end)
        return
    centred = wheel.x - block.width / 2
    ends = [(centred, wheel.top - _AIR - block.height), (centred, wheel.foot + _AIR)]
    if not above:
        ends.reverse()
    yield from ((end, None) for end in ends)
    right, left = wheel.x + 2 * _AIR + 0.4, wheel.x - 2 * _AIR - 0.4 - block.width
    high = (wheel.top + wheel.y) / 2 - block.height / 2
    low = (wheel.foot + wheel.y) / 2 - block.height / 2
    for x in (right, left, wheel.x + RIM / 2 + _AIR, wheel.x - RIM / 2 - _AIR - block.width):
        for y in (high, low) if above else (low, high):
            yield (x, y), None
    for x in (right, left):
        yield (x, wheel.y - _AIR * 4.0 - block.height), None
        yield (x, wheel.y + _AIR * 4.0), None
    for step in range(1, _STEPS // 2):
        for y in (high, low) if above else (low, high):
            middle, away = y + block.height / 2, RIM / 2 + _AIR + step * _STEP
            right, left = wheel.x + 2 * _AIR, wheel.x - 2 * _AIR
            yield (wheel.x + away, y), ((right, middle), (wheel.x + away - _AIR / 2, middle))
            start = wheel.x - away - block.width
            yield (start, y), ((left, middle), (wheel.x - away + _AIR / 2, middle))
    for step in range(1, _STEPS):
        for aside in (n * max(7.0, block.width / 2) for n in (0, 1, -1, 2, -2, 3, -3)):
            for x, y in ends:
                up = y < wheel.y
                at = (x + aside, y - step * _STEP if up else y + step * _STEP)
                rim = (wheel.x, wheel.top - 2 * _AIR if up else wheel.foot + 2 * _AIR)
                foot = (
                    min(max(wheel.x, at[0] + 1.0), at[0] + block.width - 1.0),
                    at[1] + block.height if up else at[1],
                )
                yield at, (rim, foot)


def head_items(
    subject: Subject, found: Plan, top: float, letters: Letters, *, whole: bool
) -> list[draw.Item]:
    """Return the names of the pairs over their columns, and `whole`: what stands under them."""
    names = {
        pair: (pair, "reverse" if pair == REVERSE else "", subject.heads.get(pair, ""))
        for pair in found.columns
        if pair != JOINT
    }
    x_of = dict(found.columns)
    if JOINT in found.columns and subject.train.direct is not None:
        names[JOINT] = (subject.train.direct, "direct", "")
    if subject.axle:
        names[FINAL] = (FINAL, "axle", subject.heads.get(FINAL, ""))
        x_of[FINAL] = found.wheels[f"{FINAL}.driver"].x
    if subject.overdrive:
        names[OVERDRIVE] = (OVERDRIVE, "", "")
        x_of[OVERDRIVE] = found.wheels[SUN].x
    if not whole:
        names = {pair: (name, "", "") for pair, (name, *_) in names.items()}
    on = set(subject.train.path(subject.gear) or ()) if subject.gear else set()
    items: list[draw.Item] = []
    small, large = letters.small, letters.large
    rows = max(sum(1 for line in lines[1:] if line) for lines in names.values())
    first = top - 4.0 - rows * small * draw.LEADING
    for pair, (name, *others) in names.items():
        x = x_of[pair]
        group = list(_name(name, x, first, letters))
        for row, line in enumerate(filter(None, others), 1):
            foot = first + 1.0 + row * small * draw.LEADING
            group.append(draw.Text(x, foot, line, small, "middle"))
        if pair in on or (pair == JOINT and subject.gear == subject.train.direct):
            box = draw.extent_of(group)
            low = first + 0.3 * large
            group.append(draw.Line((box.left, low), (box.right, low), draw.Pen(0.6)))
        items.append(draw.Group(f"pair {pair}", tuple(group)))
    return items


def _name(name: str, x: float, foot: float, letters: Letters) -> Iterator[draw.Item]:
    """Yield a pair's name over its column; one that is too wide in several smaller lines."""
    wide = draw.text_width(name, letters.large, bold=True) > _WIDEST_HEAD
    size = letters.small if wide else letters.large
    lines = draw.wrapped_to(name, _WIDEST_HEAD, size, bold=True, broken=True)
    for row, line in enumerate(reversed(lines)):
        yield draw.Text(x, foot - row * size * draw.LEADING, line, size, "middle", bold=True)


#: How far the ring of a step stands from the place that it speaks of.
_ASIDE = RIM / 2 + 3.4
#: The room of the ring of a step, its pen included, and some air.
_RING = 6.0


@dataclass(frozen=True, slots=True)
class Power:
    """The lines that power follows, the wheels and ties on them, and the steps in order.

    `steps`: where the ring of each stands, and what happens there. `ways`: pieces to 1 where they
    turn as the input does, -1 the other way; what stands is not among them.
    """

    lines: tuple[tuple[draw.Point, ...], ...]
    wheels: frozenset[str]
    ties: frozenset[tuple[str, str]]
    steps: tuple[tuple[draw.Point, str], ...]
    ways: Mapping[str, int]


def power(subject: Subject, plan: Plan, gear: str) -> Power:
    """Return the way of power in a gear from the input's end to the output's."""
    train, joints = subject.train, subject.joints
    at = plan.enters
    lines: list[tuple[draw.Point, ...]] = []
    wheels: list[str] = []
    ties: list[tuple[str, str]] = []
    steps: list[tuple[draw.Point, str]] = []
    chains = [
        [train.canonical(w) for w in wheel_names(pair, train.pairs[pair])]
        for pair in train.path(gear) or ()
    ]
    lock = joints.locks.get(gear)
    for chain in (*chains, *([list(wheel_names(FINAL, 2))] if subject.axle else [])):
        for one, other in itertools.pairwise(chain):
            a, b = plan.wheels[one], plan.wheels[other]
            lines.append((at, (a.x, a.y)))
            tie = plan.tie(one, other)
            touch = plan.contact(one, other)
            ring = (a.x - _ASIDE, a.foot if touch is None else touch[1])
            if tie is not None:
                ties.append(tie.wheels)
                points = tie.points if tie.points[0][1] in (a.top, a.foot) else tie.points[::-1]
                lines.append(((a.x, a.y), (a.x, points[0][1]), *points, (b.x, points[-1][1])))
                lines.append(((b.x, points[-1][1]), (b.x, b.y)))
                ring = (tie.points[1][0], (tie.points[1][1] + tie.points[2][1]) / 2)
            elif touch is not None:
                lines.append(((a.x, a.y), touch, (b.x, b.y)))
            at = (b.x, b.y)
            wheels += [one, other]
            slides = gear in joints.sliding and lock is not None and other == lock.wheel
            slid = ", which has slid into mesh" if slides else ""
            said = f"{_called(subject, one)} drives {_called(subject, other)}{slid}"
            steps.append((ring, said))
        if lock is not None and wheels[-1] == lock.wheel and gear not in joints.sliding:
            steps += _locked(subject, plan, gear)
    if not chains:
        steps[:0] = _locked(subject, plan, gear)
    if plan.leaves != at:
        lines.append((at, plan.leaves))
    if subject.overdrive:
        wheels += [SUN, ANNULUS]
    turning = joints.ways(joints.piece_of[INPUT_SHAFT], gear)
    ways = {piece: way for piece, way in turning.items() if way}
    return Power(tuple(lines), frozenset(wheels), frozenset(ties), _clear(steps), ways)


def _clear(steps: Sequence[tuple[draw.Point, str]]) -> tuple[tuple[draw.Point, str], ...]:
    """Return the steps with no ring on that of a later one: it stands above that instead."""
    found: list[tuple[draw.Point, str]] = []
    for (x, y), said in reversed(steps):
        while any(abs(x - a) < _RING and abs(y - b) < _RING for (a, b), _ in found):
            y -= _RING
        found.append(((x, y), said))
    return tuple(reversed(found))


def _locked(subject: Subject, plan: Plan, gear: str) -> list[tuple[draw.Point, str]]:
    """Return the step in which a sleeve locks what runs free."""
    sleeve = next((s for s in plan.sleeves if gear in (s.left, s.right)), None)
    if sleeve is None:
        return []
    pieces = subject.joints.piece_of
    lock = subject.joints.locks.get(gear)
    one = pieces[lock.wheel] if lock else pieces[INPUT_SHAFT]
    other = pieces[lock.to] if lock else pieces[OUTPUT_SHAFT]
    return [((sleeve.x, sleeve.y - 9.0), f"the sleeve locks the {one} to the {other}")]


def _called(subject: Subject, wheel: str) -> str:
    text = subject.labels[wheel].text
    return wheel if text == NOT_COUNTED else text
