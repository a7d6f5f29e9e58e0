"""Files that appear whole or not at all, and are never written over unasked.

What stands in them is left to whoever writes.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from cogtally.gears.errors import UserError


def refuse_there(files: Sequence[Path], replaces: bool, option: str = "--force") -> None:
    """Raise UserError where a file is there already, but for `replaces`, or a folder is.

    `option`: how a person says that it may be replaced.
    """
    there = [file for file in files if os.path.lexists(file)]
    folders = [file for file in there if file.is_dir()]
    if folders:
        raise UserError("a folder of that name is there", str(folders[0]), "take another name")
    if there and not replaces:
        more = f", and {len(there) - 1} more of these files are" if there[1:] else ""
        mend = f"nothing was written; {option} writes over it"
        raise UserError(f"the file is there already{more}", str(there[0]), mend)


def write_whole(files: Mapping[Path, bytes], place: Path | None = None) -> None:
    """Write files under other names, flushed, then give all of them their own.

    None is half written when the disk is full. Raises UserError, of `place` or of the file, where
    the disk does not take them.
    """
    unfinished: dict[Path, Path] = {}
    file = place
    try:
        for file, data in files.items():
            unfinished[file] = file.with_name(f".{file.name}-{os.getpid()}")
            with open(unfinished[file], "xb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        for file, temporary in unfinished.items():
            os.replace(temporary, file)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UserError(f"it cannot be written: {reason}", str(place or file)) from error
    finally:
        for temporary in unfinished.values():
            with suppress(OSError):
                temporary.unlink()
