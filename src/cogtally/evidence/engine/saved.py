"""Stacks saved beside a large book as `.npy` and mapped back, for one state of it, checked whole.

The file is a convenience: absent, old or spoilt it is as if it were not there, never an error. What
stands in stacks is left to `stack` and `ready`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from cogtally.catalog.model import Origin
from cogtally.evidence.engine.stack import Array, Shape, Stack
from cogtally.evidence.rho import Pools

#: Of what is saved, and of the laws that it was worked out by: raised as either changes.
VERSION = 1
ENDING = ".stacks.npy"
#: The stacks of a smaller book are made as quickly as they are mapped.
LARGE = 1_000
#: The file begins with the digest of all the rest, then the length of the head, then the head.
_DIGEST, _LENGTH = 32, 8
#: Arrays begin at multiples of this, so that they can be used as they stand.
_ALIGNED = 64


def read_stacks(origin: Origin) -> tuple[list[Stack], Pools] | None:
    """Return the stacks beside a book, and how often it has which teeth; None where unsound.

    What is written into their arrays stays in memory.
    """
    try:
        data = np.load(beside(origin.book), mmap_mode="c", allow_pickle=False).view(np.ndarray)
        if data[:_DIGEST].tobytes() != _digest(data):
            return None
        begin = _DIGEST + _LENGTH
        length = int.from_bytes(data[_DIGEST:begin].tobytes(), "little")
        head = json.loads(data[begin : begin + length].tobytes())
        if head["made"] != _made(origin):
            return None
    except (OSError, EOFError, ValueError, TypeError):
        return None
    pools = {name: dict(pool) for name, pool in head["pools"].items()}
    return [_stack(told, data[_up(begin + length) :]) for told in head["stacks"]], pools


def write_stacks(origin: Origin, stacks: Sequence[Stack], pools: Pools) -> None:
    """Save stacks beside a book, whole or not at all, as far as that can be done."""
    parts: list[tuple[int, Array]] = []
    told = []
    end = 0
    for stack in stacks:
        places: dict[str, tuple[str, tuple[int, ...], int]] = {}
        rho = {_RHO + wheel: array for wheel, array in stack.rho.items()}
        for name, array in {**stack.arrays, **rho}.items():
            places[name] = array.dtype.str, array.shape, end
            parts.append((end, np.ascontiguousarray(array)))
            end = _up(end + array.nbytes)
        shape = stack.shape
        parts_of_shape = shape.pieces, shape.edges, shape.names, shape.gears, shape.clashing
        grid = stack.first, stack.size
        told.append({"shape": parts_of_shape, "grid": grid, "arrays": places})
    every = {name: list(pool.items()) for name, pool in pools.items()}
    head = json.dumps({"made": _made(origin), "stacks": told, "pools": every}).encode()
    begin = _up(_DIGEST + _LENGTH + len(head))
    data = np.zeros(begin + end, dtype=np.uint8)
    before = len(head).to_bytes(_LENGTH, "little") + head
    data[_DIGEST : _DIGEST + len(before)] = np.frombuffer(before, dtype=np.uint8)
    for place, array in parts:
        flat = array.reshape(-1).view(np.uint8)
        data[begin + place : begin + place + flat.size] = flat
    digest = _digest(data)
    data[:_DIGEST] = np.frombuffer(digest, dtype=np.uint8)
    whole = BytesIO()
    np.save(whole, data)
    with suppress(OSError):
        from cogtally.store import write_beside

        write_beside(beside(origin.book), whole.getvalue())


def beside(book: Path) -> Path:
    """Return where the stacks of a book are saved."""
    return book.with_name(book.name + ENDING)


#: What stands before the name of a wheel whose ρ is saved.
_RHO = "rho "


def _made(origin: Origin) -> list[Any]:
    """By what, and of what, stacks are made: others are no good."""
    return [VERSION, np.__version__, sys.byteorder, origin.state]


def _up(size: int) -> int:
    return size + -size % _ALIGNED


def _stack(told: Mapping[str, Any], data: Array) -> Stack:
    rho: dict[str, Array] = {}
    arrays: dict[str, Array] = {}
    for name, (kind, shape, start) in told["arrays"].items():
        dtype = np.dtype(kind)
        flat = data[start : start + int(np.prod(shape)) * dtype.itemsize]
        into, key = (rho, name.removeprefix(_RHO)) if name.startswith(_RHO) else (arrays, name)
        into[key] = flat.view(dtype).reshape(shape)
    first, size = told["grid"]
    return Stack(Shape(*map(_tupled, told["shape"])), first, size, rho, arrays)


def _tupled(value: Any) -> Any:
    return tuple(map(_tupled, value)) if isinstance(value, list) else value


def _digest(data: Array) -> bytes:
    # Only a book has stacks beside it: every other catalog is asked without a digest.
    from hashlib import blake2b

    return blake2b(data[_DIGEST:].data, digest_size=_DIGEST).digest()
