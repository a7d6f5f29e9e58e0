"""Measured gears: which standard a wheel was cut to, and whether two can run together.

Knows module, pitch, helix and shift from diameters and spans, and the way back. Leaves to whoever
asks what was measured how, and to `show` how it is told.
"""

from cogtally.gears.callipers.fit import (
    BEYOND,
    SOUND,
    UNSETTLED_HELIX_DEG,
    Explanation,
    Fit,
    Prediction,
    widest_needed,
)
from cogtally.gears.callipers.measured import (
    AT_TIP,
    INCHES,
    MILLIMETRES,
    TOLERANCE_MM,
    TRUE,
    UNITS,
    Measured,
)
from cogtally.gears.callipers.standards import Standard
from cogtally.gears.callipers.two import (
    Candidate,
    Meeting,
    Together,
    expected_of,
    parse_pair,
    together,
)
from cogtally.gears.callipers.wheel import (
    LEAST_SHARE,
    Gauging,
    Parting,
    SpanExpected,
    Wheel,
    gauge,
    partings,
    spannable,
)
from cogtally.gears.callipers.words import (
    JAWS_MEND,
    KNOWN_KEYS,
    Taken,
    as_measured,
    jaws_asked,
    jaws_missing,
    placed,
)

__all__ = [
    "AT_TIP",
    "BEYOND",
    "INCHES",
    "JAWS_MEND",
    "KNOWN_KEYS",
    "LEAST_SHARE",
    "MILLIMETRES",
    "SOUND",
    "TOLERANCE_MM",
    "TRUE",
    "UNITS",
    "UNSETTLED_HELIX_DEG",
    "Candidate",
    "Explanation",
    "Fit",
    "Gauging",
    "Measured",
    "Meeting",
    "Parting",
    "Prediction",
    "SpanExpected",
    "Standard",
    "Taken",
    "Together",
    "Wheel",
    "as_measured",
    "expected_of",
    "gauge",
    "jaws_asked",
    "jaws_missing",
    "parse_pair",
    "partings",
    "placed",
    "spannable",
    "together",
    "widest_needed",
]
