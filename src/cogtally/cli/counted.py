"""What a command without a catalog is told of a box: its counts, and the ratios that they give.

The arithmetic is left to `gears.ratios`, which count is likeliest to the evidence.
"""

from __future__ import annotations

from collections.abc import Sequence

from cogtally.evidence.likelihood import likeliest_teeth
from cogtally.gears.epicyclic import Epicyclic
from cogtally.gears.errors import UserError
from cogtally.gears.notation import (
    FEWEST_TEETH,
    MOST_TEETH,
    Seen,
    Word,
    parse_name,
    parse_path,
    parse_seen,
    refuse_other_pairs,
)
from cogtally.gears.ratios import RatioTable, ratio_table

#: Without a catalog a wheel may have any number of teeth that can be written.
ANY_TEETH = range(FEWEST_TEETH, MOST_TEETH + 1)


def asked_counts(words: Sequence[str] | None, command: str) -> Seen:
    """Return what was counted, as typed behind `command`; raise UserError where nothing was."""
    if not words:
        mend = "write what you counted, for example input=17/28 1=14/31"
        raise UserError("nothing counted was written", command, mend)
    found = parse_seen(words)
    refuse_other_pairs(found)
    return found


def table_of(
    seen: Seen,
    layout: str | None,
    direct: str | None,
    path: Sequence[str] | None,
    *,
    axle: Word | None = None,
    overdrive: Epicyclic | None = None,
) -> RatioTable:
    """Return the ratios of what was counted, with `--layout`, `--direct` and `--path` as typed.

    Raises UserError as `ratios` does.
    """
    return ratio_table(
        seen,
        lambda counts: likeliest_teeth(counts, ANY_TEETH),
        layout=layout,
        direct=None if direct is None else parse_name(direct, "--direct"),
        paths=[parse_path(text, "--path") for text in path or ()],
        axle=axle,
        overdrive=overdrive,
    )
