"""The picture of the page on a home screen: a cog with one tooth chalked, drawn here.

Which sizes are asked for where is left to `writing`.
"""

from __future__ import annotations

import struct
import zlib
from math import cos, pi, sin

#: Sides of the pictures, in pixels.
SIZES = (192, 512)
MASKED = "icon-mask.png"
TEETH = 9
#: Radii and half widths of a tooth at root and tip, as shares of half the side and of a turn.
ROOT, TIP, BORE = 0.62, 0.86, 0.24
AT_ROOT, AT_TIP = 0.3, 0.17
BACK, COG, CHALKED = (23, 50, 77), (240, 240, 232), (255, 190, 60)
#: A picture that a telephone cuts to its own shape keeps all within this share of the side.
SAFE = 0.76
#: Each pixel is looked at so many times either way.
FINE = 3


def icon_svg() -> str:
    """Return the picture as SVG, 100 wide."""
    teeth = []
    for tooth in range(TEETH):
        points = []
        for turn, radius in ((-AT_ROOT, ROOT), (-AT_TIP, TIP), (AT_TIP, TIP), (AT_ROOT, ROOT)):
            angle = 2 * pi * (tooth + turn) / TEETH
            points.append(
                f"{50 + 50 * radius * sin(angle):.1f},{50 - 50 * radius * cos(angle):.1f}"
            )
        teeth.append(" ".join(points))
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">'
        f'<rect width="100" height="100" fill="{_hex(BACK)}"/>'
        f'<polygon points="{" ".join(teeth)}" fill="{_hex(COG)}"/>'
        f'<polygon points="{teeth[0]}" fill="{_hex(CHALKED)}"/>'
        f'<circle cx="50" cy="50" r="{50 * BORE}" fill="{_hex(BACK)}"/></svg>'
    )


def icon_png(side: int, *, masked: bool = False) -> bytes:
    """Return the picture as a PNG of that many pixels a side; `masked`: smaller, to be cut out."""
    import numpy as np

    at = (np.arange(side * FINE) + 0.5) / (side * FINE) * 2 - 1
    x, y = np.meshgrid(at, at)
    radius = np.hypot(x, y) / (SAFE if masked else 1.0)
    # How far round from the middle of the nearest tooth, as a share of a tooth's turn.
    turn = np.arctan2(x, -y) / (2 * pi) * TEETH
    off = np.abs(turn - np.round(turn))
    # The flank is straight: from AT_ROOT at the root to AT_TIP at the tip.
    flank = AT_ROOT + (AT_TIP - AT_ROOT) * (radius - ROOT) / (TIP - ROOT)
    tooth = (radius > ROOT) & (radius <= TIP) & (off <= flank)
    picture = np.empty((*x.shape, 3))
    picture[:] = BACK
    picture[((radius <= ROOT) & (radius > BORE)) | tooth] = COG
    picture[tooth & (np.round(turn) == 0)] = CHALKED
    small = picture.reshape(side, FINE, side, FINE, 3).mean(axis=(1, 3)).round().astype(np.uint8)
    rows = b"".join(b"\0" + row.tobytes() for row in small)
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(map(_chunk, parts))


def _chunk(part: tuple[bytes, bytes]) -> bytes:
    kind, data = part
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _hex(colour: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
