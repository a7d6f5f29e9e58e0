"""What the pieces that turn in a box are called, by layout and by the wheels on them.

Which wheels make a piece is left to `turning_joints`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cogtally.gears.trains import FINAL, INPUT, OUTPUT, Train, pair_of

#: The two shafts by which a box is driven and drives; no wheel can be called so.
INPUT_SHAFT, OUTPUT_SHAFT = "<input shaft>", "<output shaft>"
SHAFTS = (INPUT_SHAFT, OUTPUT_SHAFT)
LAYGEAR, LAYSHAFT, CROWN = "laygear", "layshaft", "crown wheel"

#: What the two shafts are called in each layout.
_CALLED = {
    "layshaft": ("input shaft", "main shaft"),
    "sleeve": ("main shaft", "output sleeve"),
    "two-shaft": ("input shaft", "output shaft"),
    "axle": ("pinion", CROWN),
}


def named_pieces(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    parts: Iterable[tuple[str, ...]],
    frees: Mapping[str, str],
) -> dict[str, tuple[str, ...]]:
    """Name every piece, none like another; the input shaft first, the output shaft last.

    `parts`: what is joined for good in each piece. `frees`: each wheel that a gear locks, to that
    gear.
    """
    order = [INPUT_SHAFT, *train.wheels, f"{FINAL}.driver", OUTPUT_SHAFT, f"{FINAL}.driven"]
    found: dict[str, tuple[str, ...]] = {}
    for unsorted in sorted(parts, key=lambda p: _rank(p, order)):
        own = tuple(sorted(unsorted, key=order.index))
        name = _name(train, paths, own, frees)
        wheels = " + ".join(part for part in own if part not in SHAFTS)
        found[name if name not in found else wheels] = own
    return found


def _rank(parts: tuple[str, ...], order: list[str]) -> tuple[bool, int]:
    # Wheels on the output shaft must not put it before the others; an axle behind it comes last.
    return OUTPUT_SHAFT in parts or f"{FINAL}.driven" in parts, min(map(order.index, parts))


def _name(
    train: Train,
    paths: Mapping[str, tuple[str, ...]],
    parts: tuple[str, ...],
    frees: Mapping[str, str],
) -> str:
    for shaft, name in zip(SHAFTS, _CALLED[train.layout], strict=True):
        if shaft in parts:
            return name
    if f"{INPUT}.driven" in parts:
        return LAYGEAR
    if train.layout == "sleeve" and f"{OUTPUT}.driver" in parts:
        return LAYSHAFT
    if f"{FINAL}.driven" in parts:
        return CROWN
    named = next((frees[part] for part in parts if part in frees), None)
    if named is not None:
        return f"{named}-gear"
    if len(parts) == 1 and parts[0].endswith(".idler"):
        return parts[0].replace(".", "-")
    # Two wheels made in one between the ends of a single path are that gear's idler.
    on = [g for g, path in paths.items() if any(pair_of(p) in path for p in parts)]
    return f"{on[0]}-idler" if len(on) == 1 else " + ".join(parts)
