"""What turns in a box, how fast and which way, in neutral and in each gear.

Knows which wheels are one piece, which run free and what locks them. Leaves to `show` how a
train is drawn.
"""

from cogtally.gears.turning.joints import (
    INPUT_SHAFT as INPUT_SHAFT,
    LAYGEAR as LAYGEAR,
    LAYSHAFT as LAYSHAFT,
    OUTPUT_SHAFT as OUTPUT_SHAFT,
    SHAFTS as SHAFTS,
    Joints as Joints,
    Mesh as Mesh,
    joints as joints,
)
from cogtally.gears.turning.motion import (
    BEARING as BEARING,
    BUSH as BUSH,
    MESH as MESH,
    InGear as InGear,
    Noise as Noise,
    Part as Part,
    Turning as Turning,
    noise as noise,
    turning as turning,
)
