"""Arrays in one `.npy` file that is mapped and checked whole; what they mean is left to others."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cogtally.store.whole import write_beside

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: The file begins with the digest of all the rest, then the length of the head, then the head.
_DIGEST, _LENGTH = 32, 8
#: Arrays begin at multiples of this, so that they can be used as they stand.
_ALIGNED = 64


def write_arrays(path: Path, about: object, arrays: Mapping[str, NDArray[Any]]) -> None:
    """Write arrays as `write_beside` does, with what is to be said `about` them, as JSON has it.

    Raises OSError.
    """
    # Only a large book has arrays beside it: every other command does without numpy.
    from io import BytesIO

    import numpy as np

    places: dict[str, tuple[str, tuple[int, ...], int]] = {}
    end = 0
    for name, array in arrays.items():
        places[name] = array.dtype.str, array.shape, end
        end = _up(end + array.nbytes)
    head = json.dumps([about, places]).encode()
    begin = _up(_DIGEST + _LENGTH + len(head))
    data = np.zeros(begin + end, dtype=np.uint8)
    before = len(head).to_bytes(_LENGTH, "little") + head
    data[_DIGEST : _DIGEST + len(before)] = np.frombuffer(before, dtype=np.uint8)
    for name, array in arrays.items():
        flat = np.ascontiguousarray(array).reshape(-1).view(np.uint8)
        start = begin + places[name][2]
        data[start : start + flat.size] = flat
    data[:_DIGEST] = np.frombuffer(_digest(data), dtype=np.uint8)
    whole = BytesIO()
    np.save(whole, data)
    write_beside(path, whole.getvalue())


def read_arrays(path: Path) -> tuple[Any, dict[str, NDArray[Any]]]:
    """Return what was said about the arrays of a file, and those, mapped.

    What is written into them stays in memory. Raises ValueError for what `write_arrays` did not
    write, OSError.
    """
    import numpy as np

    try:
        data = np.load(path, mmap_mode="c", allow_pickle=False).view(np.ndarray)
    except EOFError as error:
        raise ValueError("it is not whole") from error
    if data.dtype != np.uint8 or data.ndim != 1 or data[:_DIGEST].tobytes() != _digest(data):
        raise ValueError("it is not what was written")
    begin = _DIGEST + _LENGTH
    length = int.from_bytes(data[_DIGEST:begin].tobytes(), "little")
    about, places = json.loads(data[begin : begin + length].tobytes())
    found = {}
    for name, (kind, shape, start) in places.items():
        dtype = np.dtype(kind)
        first = _up(begin + length) + start
        flat = data[first : first + int(np.prod(shape)) * dtype.itemsize]
        found[name] = flat.view(dtype).reshape(shape)
    return about, found


def _up(size: int) -> int:
    return size + -size % _ALIGNED


def _digest(data: NDArray[Any]) -> bytes:
    from hashlib import blake2b

    return blake2b(data[_DIGEST:].data, digest_size=_DIGEST).digest()
