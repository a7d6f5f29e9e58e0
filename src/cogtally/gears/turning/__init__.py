"""What turns in a box, how fast and which way, in neutral and in each gear.

Knows which wheels are one piece, which run free and what locks them. Leaves to `show` how a
train is drawn.
"""

from cogtally.gears.turning.joints import (
    INPUT_SHAFT,
    LAYGEAR,
    LAYSHAFT,
    OUTPUT_SHAFT,
    SHAFTS,
    Joints,
    Mesh,
    joints,
)
from cogtally.gears.turning.motion import (
    BEARING,
    BUSH,
    MESH,
    InGear,
    Noise,
    Part,
    Turning,
    noise,
    turning,
)

__all__ = [
    "BEARING",
    "BUSH",
    "INPUT_SHAFT",
    "LAYGEAR",
    "LAYSHAFT",
    "MESH",
    "OUTPUT_SHAFT",
    "SHAFTS",
    "InGear",
    "Joints",
    "Mesh",
    "Noise",
    "Part",
    "Turning",
    "joints",
    "noise",
    "turning",
]
