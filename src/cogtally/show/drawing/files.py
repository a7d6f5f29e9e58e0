"""A drawing written to a file, of the kind that the end of its name says.

How each kind comes about is left to `svg` and `pdf`.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from cogtally.gears.errors import UserError
from cogtally.show.drawing.primitives import Drawing

SVG, PNG, PDF = ".svg", ".png", ".pdf"
PICTURES = (SVG, PNG, PDF)


def asked_file(name: str, option: str, endings: tuple[str, ...] = PICTURES) -> Path:
    """Return the file that an option names, before anything is worked out.

    Raises UserError for a name with another ending, a folder, or a folder that is not there.
    """
    place = f"{option} {name}"
    if "\0" in name or not name.strip():
        raise UserError("this is no name of a file", option, f"write {option} FILE{endings[0]}")
    path = Path(name)
    if path.suffix.lower() not in endings:
        kinds = " or ".join(endings)
        raise UserError("the end of the name does not say what to write", place, f"use {kinds}")
    if path.is_dir():
        raise UserError("a folder of that name is there", place, "take another name")
    if not path.parent.is_dir():
        raise UserError(f"there is no folder {path.parent}", place, "make it first")
    return path


def write_drawing(drawing: Drawing, path: Path) -> None:
    """Write a drawing to a file; what was there is replaced, the new file appears whole.

    Raises UserError where the disk does not take it.
    """
    write_whole(_bytes(drawing, path.suffix.lower()), path)


def write_whole(data: bytes, path: Path) -> None:
    """Write a file under another name first, so that none is half written when the disk is full.

    Raises UserError where the disk does not take it.
    """
    unfinished = path.with_name(f".{path.name}-{os.getpid()}")
    try:
        unfinished.write_bytes(data)
        os.replace(unfinished, path)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UserError(f"it cannot be written: {reason}", str(path)) from error
    finally:
        with suppress(OSError):
            unfinished.unlink()


def _bytes(drawing: Drawing, ending: str) -> bytes:
    if ending == SVG:
        from cogtally.show.drawing.svg import svg_text

        return svg_text(drawing).encode("utf-8")
    from cogtally.show.drawing.pdf import pdf_bytes, png_bytes

    return png_bytes(drawing) if ending == PNG else pdf_bytes(drawing)
