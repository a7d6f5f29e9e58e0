"""Measured gears: which standard a wheel was cut to, and whether two can run together.

Knows module, pitch, helix and shift from diameters and spans, and the way back. Leaves to whoever
asks what was measured how, and to `show` how it is told.
"""

from cogtally.gears.callipers.fit import (
    BEYOND as BEYOND,
    SOUND as SOUND,
    UNSETTLED_HELIX_DEG as UNSETTLED_HELIX_DEG,
    Explanation as Explanation,
    Fit as Fit,
    Prediction as Prediction,
    widest_needed as widest_needed,
)
from cogtally.gears.callipers.measured import (
    AT_TIP as AT_TIP,
    INCHES as INCHES,
    MILLIMETRES as MILLIMETRES,
    TOLERANCE_MM as TOLERANCE_MM,
    TRUE as TRUE,
    UNITS as UNITS,
    Measured as Measured,
)
from cogtally.gears.callipers.standards import Standard as Standard
from cogtally.gears.callipers.two import (
    Candidate as Candidate,
    Meeting as Meeting,
    Together as Together,
    expected_of as expected_of,
    parse_pair as parse_pair,
    together as together,
)
from cogtally.gears.callipers.wheel import (
    LEAST_SHARE as LEAST_SHARE,
    Gauging as Gauging,
    Parting as Parting,
    Wheel as Wheel,
    gauge as gauge,
    partings as partings,
    spannable as spannable,
)
from cogtally.gears.callipers.words import (
    JAWS_MEND as JAWS_MEND,
    KNOWN_KEYS as KNOWN_KEYS,
    Taken as Taken,
    as_measured as as_measured,
    jaws_asked as jaws_asked,
    jaws_missing as jaws_missing,
    placed as placed,
)
