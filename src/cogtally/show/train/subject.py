"""What a picture of a train is to show: the train, a label for each wheel, and words around it.

Where it comes from is left to `picture_of`, how it is drawn to `picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from cogtally.gears.errors import UserError
from cogtally.gears.trains import FINAL, OVERDRIVE, Train, role_of
from cogtally.gears.turning import Joints, joints
from cogtally.show.screen import plain

NOT_COUNTED = "?"
#: An overdrive is sun, planets and annulus; it has no gears of its own.
_NO_JOINTS = Joints((), {}, (), {}, ())
_PLACES = 3


@dataclass(frozen=True, slots=True)
class Label:
    """What stands at a wheel: `text`, `beside` it in brackets, and a line `below`.

    `marked`: it disagrees with what stands beside it. `known`: it was counted; else its wheel is
    dashed.
    """

    text: str
    beside: str = ""
    below: str = ""
    marked: bool = False
    known: bool = True

    @property
    def words(self) -> str:
        """It read out."""
        text = "not counted" if self.text == NOT_COUNTED else self.text
        return " ".join(word for word in (text, self.beside, self.below) if word)


@dataclass(frozen=True)
class Subject:
    """All that a picture shows.

    `train` is without the axle behind, which `axle` tells of; `order`: its pairs along the axis.
    `teeth`: what wheels are drawn as high as, counted or listed. `heads`: a line under a pair's
    name. `gear`: the one whose path of power is drawn strong. `listed`: whose teeth stand in
    brackets. `remarks` and `cautions` stand below.
    """

    title: str
    train: Train
    joints: Joints
    order: tuple[str, ...]
    teeth: Mapping[str, int]
    labels: Mapping[str, Label]
    axle: bool = False
    said: str = ""
    heads: Mapping[str, str] = field(default_factory=dict)
    gear: str | None = None
    listed: str = ""
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def about(self) -> str:
        """Return the picture in words, for who cannot see it."""
        parts = []
        for pair in (*self.order, *([FINAL] if self.axle else [])):
            own = [w for w in self.labels if w.rpartition(".")[0] == pair]
            said = ", ".join(f"{role_of(w)} {self.labels[w].words}" for w in own)
            if said:
                parts.append(f"{pair}: {said}.")
        return " ".join([self.title + ".", *parts, *self.remarks])


def subject_of(
    title: str,
    train: Train,
    order: Sequence[str],
    teeth: Mapping[str, int],
    labels: Mapping[str, Label],
    ratios: Mapping[str, Fraction | None],
    *,
    axle: bool,
    gear: str | None = None,
    sliding: Collection[str] = (),
    remarks: Sequence[str] = (),
    said: str = "",
    listed: str = "",
    cautions: tuple[str, ...] = (),
) -> Subject:
    """Return what a picture shows, from what is known of the box.

    `train` and `order` are without the axle behind, `ratios` of its gears with that of the axle.
    Raises UserError where there is no gear, where `gear` is none of them, and for paths that no
    box can have.
    """
    if not train.gears and train.layout != OVERDRIVE:
        raise UserError(
            "no gear is written, only pairs that gears run through",
            "--picture",
            "write the gears' pairs too, for example 1=14/31",
        )
    if gear is not None and gear not in train.gears:
        mend = f"use {', '.join(train.gears)}" if train.gears else "leave --gear out"
        raise UserError("no such gear is drawn", f"--gear {gear}", mend)
    found = _NO_JOINTS if train.layout == OVERDRIVE else joints(train, axle=axle, sliding=sliding)
    words = list(remarks)
    heads: dict[str, str] = {}
    for name, ratio in ratios.items():
        if ratio is None or name == train.direct:
            continue
        text = f"{float(ratio):.{_PLACES}f}"
        if name in train.pairs or name == FINAL:
            heads[name] = text
        else:
            words.insert(0, f"{name}: {text}, through {', '.join(train.path(name) or ())}.")
    words += _sliding_words(found.sliding)
    return Subject(
        title=plain(title if gear is None else f"{title}: gear {gear}"),
        train=train,
        joints=found,
        order=tuple(order),
        teeth=teeth,
        labels=labels,
        axle=axle,
        said=said,
        heads=heads,
        gear=gear,
        listed=listed,
        remarks=tuple(words),
        cautions=cautions,
    )


def _sliding_words(gears: Sequence[str]) -> list[str]:
    if not gears:
        return []
    return [f"{' and '.join(gears)}: the driven wheel slides into mesh, in its own gear only."]
