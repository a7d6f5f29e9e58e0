"""What a right answer does not say, and how to stay whole while counting.

Where it is printed is left to each view.
"""

from __future__ import annotations

CAUTION = "Right teeth do not prove a sound gear or a fit. Turn by hand, box supported."

CAUTIONS = (
    "A matching count says what a gear is, not that it is sound or will fit: check hand and angle "
    "of helix, bore, splines, width, wear and cracks.",
    "Turn by hand only, with the engine disconnected and the box supported, for it is heavy. Keep "
    "fingers out of the mesh.",
    "Have a qualified rebuilder pass it before it carries anyone on a road, and follow the rules "
    "where you live.",
)

DEMO_CAUTION = "From the invented demo catalog: it names no real box."
