"""In which order the pairs of a box follow one another along its axis.

Where they stand in a picture is left to `layout`.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.gears.trains import INPUT, REVERSE, Train, is_numbered, pair_of, wheel_names


def pairs_in_order(
    train: Train, pieces: Sequence[Sequence[str]], pairs: Sequence[str]
) -> tuple[str, ...]:
    """Return pairs as they follow one another along the axis, as far as the pieces tell.

    `pieces`: the wheels of each, in order. A piece with wheels of most pairs gives the order, the
    rest follow as written; other pieces put theirs right; a pair that shares a wheel with another
    and stands on no such piece is beside that.
    """
    of_pieces = [
        [p for p in dict.fromkeys(map(pair_of, wheels)) if p in pairs] for wheels in pieces
    ]
    of_pieces.sort(key=len, reverse=True)
    order = list(pairs)
    if of_pieces and 2 * len(of_pieces[0]) > len(pairs):
        order = [*of_pieces[0], *(p for p in pairs if p not in of_pieces[0])]
    for own in of_pieces:
        waiting = iter(own)
        order = [next(waiting) if pair in own else pair for pair in order]
    held = {pair for own in of_pieces if len(own) > 1 for pair in own}
    for pair in pairs:
        names = wheel_names(pair, train.pairs[pair])
        mates = (pair_of(train.canonical(w)) for w in names)
        mate = next((p for p in mates if p != pair and p in order), None)
        if mate is not None and pair not in held:
            order.remove(pair)
            order.insert(order.index(mate) + 1, pair)
    return tuple(order)


def default_order(train: Train, pairs: Sequence[str]) -> tuple[str, ...]:
    """Return pairs as they commonly follow one another where no pieces are known.

    In a layshaft box the input pair, then from the highest gear down (common practice, no source).
    """
    if train.layout != "layshaft":
        return tuple(pairs)
    numbered = sorted((p for p in pairs if is_numbered(p)), key=int, reverse=True)
    first = [p for p in pairs if p == INPUT]
    rest = [p for p in pairs if not is_numbered(p) and p not in (INPUT, REVERSE)]
    return (*first, *numbered, *rest, *(p for p in pairs if p == REVERSE))
