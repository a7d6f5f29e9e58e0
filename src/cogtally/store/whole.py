"""Files that appear whole or not at all, and are never written over unasked.

What stands in them is left to whoever writes.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from zlib import crc32

from cogtally.gears.errors import UserError, why_of

#: What SQLite keeps beside a file.
_SIDES = ("", "-journal", "-wal", "-shm")
#: An unfinished file names the process that writes it.
_UNFINISHED = re.compile(r"\..+-(\d+)\.cogtally(?:-journal|-wal|-shm)?")


def refuse_there(files: Sequence[Path], replaces: bool) -> None:
    """Raise UserError where a file is there already, but for `replaces`, or a folder is."""
    there = [file for file in files if os.path.lexists(file)]
    folders = [file for file in there if file.is_dir()]
    if folders:
        raise UserError("a folder of that name is there", str(folders[0]), "take another name")
    if there and not replaces:
        more = f", and {len(there) - 1} more of these files are" if there[1:] else ""
        mend = "nothing was written; --force writes over it"
        raise UserError(f"the file is there already{more}", str(there[0]), mend)


def write_whole(files: Mapping[Path, bytes], place: Path | None = None) -> None:
    """Write files under other names, flushed, then give all of them their own.

    None is half written when the disk is full. Raises UserError, of `place` or of the file, where
    the disk does not take them.
    """
    new: dict[Path, Path] = {}
    file = place
    try:
        for folder in {file.parent for file in files}:
            sweep(folder)
        for file, data in files.items():
            new[file] = unfinished(file)
            with open(new[file], "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        for file, temporary in new.items():
            os.replace(temporary, file)
    except OSError as error:
        raise UserError(f"it cannot be written: {why_of(error)}", str(place or file)) from error
    finally:
        for temporary in new.values():
            clear(temporary)


def unfinished(path: Path) -> Path:
    """Return the name under which this process writes a file until it is whole."""
    return path.with_name(f".{path.name}-{os.getpid()}.cogtally")


def write_beside(path: Path, data: bytes) -> None:
    """Write a file that can be made anew, whole or not at all; what was there is replaced.

    What killed runs left half written in the folder is taken away. Raises OSError.
    """
    sweep(path.parent)
    new = unfinished(path)
    try:
        new.write_bytes(data)
        os.replace(new, path)
    finally:
        clear(new)


def write_summed(path: Path, data: bytes) -> None:
    """Write a file as `write_beside` does, behind a sum of all that stands in it."""
    write_beside(path, b"%08x\n%b" % (crc32(data), data))


def read_summed(path: Path, most: int | None = None) -> bytes:
    """Return what `write_summed` wrote; raise ValueError for what it did not write, OSError.

    `most`: bytes; of more it is not read.
    """
    if most is not None and path.stat().st_size > most:
        raise ValueError("it is too large")
    told, _, data = path.read_bytes().partition(b"\n")
    if int(told, 16) != crc32(data):
        raise ValueError("it is not what was written")
    return data


def clear(path: Path) -> None:
    """Take away an unfinished file and what SQLite keeps beside it, as far as that can be done."""
    for end in _SIDES:
        with suppress(OSError):
            path.with_name(path.name + end).unlink()


def sweep(folder: Path) -> None:
    """Take away what runs that were killed left unfinished in a folder; never an error.

    A file is theirs by its name, and by its process, which is no more.
    """
    with suppress(OSError), os.scandir(folder) as entries:
        left = [
            entry.path
            for entry in entries
            if (found := _UNFINISHED.fullmatch(entry.name)) and not is_running(int(found[1]))
        ]
        for path in left:
            with suppress(OSError):
                os.unlink(path)


def is_running(process: int) -> bool:
    """Tell whether there is such a process; where the system does not tell, there is."""
    if os.name == "nt":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
