"""The words of the account."""

from math import log2

import pytest

from cogtally.show.box.screen import odds


@pytest.mark.parametrize(
    ("to_one", "said"),
    [
        (1, "1 to 1"),
        (3.456, "3.46 to 1"),
        (99.4, "99.4 to 1"),
        (100.4, "100 to 1"),
        (1_236, "1,240 to 1"),
        (99_960, "100,000 to 1"),
        (1_000_000, "over 1,000,000 to 1"),
        (2.0**900, "over 1,000,000 to 1"),
    ],
)
def test_odds(to_one, said):
    """Odds are said in figures that a person reads out, the same on either side."""
    assert odds(log2(to_one)) == said
    assert odds(-log2(to_one)) == said
