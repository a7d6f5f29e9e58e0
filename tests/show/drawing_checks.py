"""What is wrong with a drawing: things off its page, labels on labels, labels on lines.

How much room a text takes is left to `text`.
"""

import itertools
from collections.abc import Iterator

from cogtally.show.drawing import (
    POINT,
    Box,
    Drawing,
    Ellipse,
    Leaf,
    Line,
    Page,
    Point,
    Rectangle,
    Text,
    extent,
    leaves as leaves_of,
)

#: Millimetres by which two things may touch: less is not seen.
SLACK = 0.05


def outside_page(drawing: Drawing) -> list[str]:
    """Return every item that is not wholly on its page, as a line of words."""
    return [
        f"page {number}: {_named(item)} at {_rounded(extent(item))}"
        for number, page in enumerate(drawing.pages, 1)
        for item in leaves_of(page.items)
        if not _inside(extent(item), page)
    ]


def overlapping_labels(drawing: Drawing) -> list[tuple[str, str]]:
    """Return every two texts of one page that lie on each other."""
    found = []
    for page in drawing.pages:
        texts = [item for item in leaves_of(page.items) if isinstance(item, Text)]
        for one, other in itertools.combinations(texts, 2):
            if _meet(_shrunk(extent(one)), extent(other)):
                found.append((one.text, other.text))
    return found


def crossed_labels(drawing: Drawing) -> list[tuple[str, str]]:
    """Return every text with a line across it that can be seen, and that shape.

    What a filled shape hides before the text is written on it does not cross it.
    """
    found = []
    for page in drawing.pages:
        items = list(leaves_of(page.items))
        for place, text in enumerate(items):
            if not isinstance(text, Text):
                continue
            box = _shrunk(extent(text))
            hidden = max((n for n in range(place) if _covers(items[n], box)), default=-1)
            for item in items[hidden + 1 :]:
                if not isinstance(item, Text) and item.pen is not None and _crosses(item, box):
                    found.append((text.text, _named(item)))
    return found


def small_texts(drawing: Drawing, least: float) -> list[str]:
    """Return every text that is smaller than so many points."""
    return [
        f"{item.text}: {item.size / POINT:.1f} pt"
        for page in drawing.pages
        for item in leaves_of(page.items)
        if isinstance(item, Text) and item.size < (least - 0.01) * POINT
    ]


def faults(drawing: Drawing) -> list[object]:
    """Return everything that is wrong with a drawing."""
    return [*outside_page(drawing), *overlapping_labels(drawing), *crossed_labels(drawing)]


def _covers(item: Leaf, box: Box) -> bool:
    """Tell whether most of a text lies on a filled shape, so that what is under it is hidden."""
    if isinstance(item, Line | Text) or not item.fill:
        return False
    under = extent(item)
    return (
        under.left <= box.left
        and box.right <= under.right
        and under.top <= box.top
        and box.bottom <= under.bottom
    )


def _crosses(item: Leaf, box: Box) -> bool:
    if isinstance(item, Ellipse):
        # The four extreme points and the corners between them are near enough for a label.
        return _meet(box, extent(item)) and not _within_ellipse(item, box)
    return any(_cuts(one, other, box) for one, other in _edges(item))


def _edges(item: Leaf) -> Iterator[tuple[Point, Point]]:
    if isinstance(item, Line):
        yield item.start, item.end
        return
    if isinstance(item, Rectangle):
        left, top, right, bottom = item.x, item.y, item.x + item.width, item.y + item.height
        corners: tuple[Point, ...] = ((left, top), (right, top), (right, bottom), (left, bottom))
        closed = True
    else:
        assert not isinstance(item, Ellipse | Text)
        corners, closed = item.points, item.closed
    yield from itertools.pairwise([*corners, *(corners[:1] if closed else ())])


def _cuts(one: Point, other: Point, box: Box) -> bool:
    """Tell whether a line has a part inside a box (Liang and Barsky's clipping)."""
    low, high = 0.0, 1.0
    dx, dy = other[0] - one[0], other[1] - one[1]
    sides = (
        (-dx, one[0] - box.left),
        (dx, box.right - one[0]),
        (-dy, one[1] - box.top),
        (dy, box.bottom - one[1]),
    )
    for towards, room in sides:
        if towards == 0:
            if room < 0:
                return False
        elif towards < 0:
            low = max(low, room / towards)
        else:
            high = min(high, room / towards)
    return low < high


def _within_ellipse(item: Ellipse, box: Box) -> bool:
    corners = itertools.product((box.left, box.right), (box.top, box.bottom))
    return all(
        ((x - item.x) / item.across) ** 2 + ((y - item.y) / item.down) ** 2 <= 1 for x, y in corners
    )


def _inside(box: Box, page: Page) -> bool:
    return (
        box.left >= -SLACK
        and box.top >= -SLACK
        and box.right <= page.width + SLACK
        and box.bottom <= page.height + SLACK
    )


def _shrunk(box: Box) -> Box:
    return Box(box.left + SLACK, box.top + SLACK, box.right - SLACK, box.bottom - SLACK)


def _meet(one: Box, other: Box) -> bool:
    across = one.left < other.right and other.left < one.right
    return across and one.top < other.bottom and other.top < one.bottom


def _named(item: Leaf) -> str:
    return repr(item.text) if isinstance(item, Text) else type(item).__name__.lower()


def _rounded(box: Box) -> str:
    return f"({box.left:.1f}, {box.top:.1f}) to ({box.right:.1f}, {box.bottom:.1f})"
