"""A probability in words and in per cent: one scale for every sentence and every list.

Where the probability comes from is left to the evidence.
"""

from __future__ import annotations

from math import floor

#: From each of these on, a probability is called so.
SCALE = (
    (0.999, "certain"),
    (0.97, "nearly certain"),
    (0.90, "very likely"),
    (0.70, "likely"),
    (0.50, "more likely than not"),
    (0.10, "possible"),
    (0.01, "unlikely"),
    (0.0, "very unlikely"),
)
#: Called `very likely`, and nothing above it.
_HIGHEST_HELD = 0.90
#: Below this a share is not worth a line; it prints as less than 0.1 %.
LEAST_SHOWN = 0.0005


def in_words(probability: float) -> str:
    """Return the word of the scale for a probability."""
    return next((word for least, word in SCALE if probability >= least), SCALE[-1][1])


def per_cent(probability: float) -> str:
    """Return a probability as a person reads it: whole per cents, tenths near either end.

    It never rounds to 0 or 100 %, nor across the 90 % from which an answer is given.
    """
    if probability < LEAST_SHOWN:
        return "under 0.1 %"
    if probability >= 1 - LEAST_SHOWN:
        return "over 99.9 %"
    if probability < 0.01 or probability >= 0.99:
        return f"{100 * probability:.1f} %"
    if 0.895 <= probability < 0.90:
        return f"{floor(1000 * probability) / 10:.1f} %"
    return f"{100 * probability:.0f} %"


def said(probability: float, *, held: bool = False) -> str:
    """Return a probability in words and per cent: `nearly certain, 99 %`.

    `held`: something speaks against it plainly, and no word is above `very likely`.
    """
    word = min(probability, _HIGHEST_HELD) if held else probability
    return f"{in_words(word)}, {per_cent(probability)}"
