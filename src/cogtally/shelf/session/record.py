"""What is written down of a session: lines of JSON, and the session that they tell.

The disk is left to `sessions`, what a session makes of its entries to `bench`.

The first line says what was asked (`Asked`), each other one is a step (`bench.Step`), what the
answer was after it, or again what is asked from there on. A last line that a crash left half
written is not read.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any
from zlib import crc32

from cogtally.catalog.model import Catalog
from cogtally.gears.errors import UserError
from cogtally.shelf.session.bench import ENDS, NAME, STEPS, Bench, Step
from cogtally.shelf.session.entry import FEATURE, MARK

FORMAT = 1
#: The key of a line under which the sum of all the others stands.
SUM = "sum"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a session is for: its `end`, and the catalog and the `family` that it asks about.

    `catalog`: the full path as the person gave it, empty for their own book and for the demo.
    `digest`: of all that the catalog held (`digest_of`). `family`: an id, empty for every family.
    `title`: what the session is called, customer and vehicle, empty where nobody said.
    """

    end: str
    catalog: str = ""
    demo: bool = False
    digest: str = ""
    family: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Session:
    """A session as its file has it: `begun` and `last` are when it was begun and last entered to.

    `bench` is where it stands, `size` where the last whole line of the file ends, `so_far` the
    answer in one line as it was last told, empty where none was. `entered`: how many entries there
    were, `torn`: how many lines were left out because a crash or a disk spoilt them.
    """

    id: str
    begun: str
    last: str
    asked: Asked
    bench: Bench
    size: int
    so_far: str = ""
    entered: int = 0
    torn: int = 0


def digest_of(catalog: Catalog) -> str:
    """Return a digest of all that a catalog holds; comments and the look of its files are not."""
    from hashlib import sha256

    return sha256(json.dumps(_plain(catalog.families)).encode()).hexdigest()


def lines_of(
    at: str, step: Step | None = None, asked: Asked | None = None, so_far: str | None = None
) -> bytes:
    """Return the lines to write `at` a moment: what is asked, a step, the answer so far, in order.

    Each is None where there is nothing of it to be written.
    """
    lines: list[dict[str, Any]] = []
    if asked is not None:
        lines.append({"asked": {"format": FORMAT, **asdict(asked)}})
    if step is not None:
        lines.append({"step": step.kind, **_told(step)})
    if so_far is not None:
        lines.append({"so_far": so_far})
    return "".join(_with_sum({"at": at, **line}) + "\n" for line in lines).encode()


def read_record(session_id: str, data: bytes, file: str) -> Session:
    """Return the session that the whole lines in `data` tell; what is torn is left out.

    Raises UserError, which names the `file`, where no line is whole or one is of a later version.
    """
    *lines, half = data.split(b"\n")
    asked: Asked | None = None
    bench = Bench()
    begun = last = so_far = ""
    size = at = entered = 0
    torn = int(bool(half))
    for number, line in enumerate(lines, 1):
        at += len(line) + 1
        record = _whole(line)
        if record is None:
            torn += 1
            continue
        try:
            last = str(record["at"])
            if "asked" in record:
                asked = _asked(record["asked"])
                bench = Bench(asked.end, bench.steps)
            elif "so_far" in record:
                so_far = str(record["so_far"])
            else:
                bench = bench.after(_step(record))
                entered += 1
        except (ValueError, KeyError, TypeError, AttributeError, UserError) as error:
            raise _broken(file, number) from error
        begun = begun or last
        size = at
    if not size:
        mend = "nothing was entered into it, or its disk lost it: take the file away"
        raise UserError("nothing of this session can be read", file, mend)
    # Where the line that says what was asked is torn, the entries are as good as ever.
    asked = asked or Asked(NAME)
    return Session(session_id, begun, last, asked, bench, size, so_far, entered, torn)


def is_record(line: bytes) -> bool:
    """Tell whether a line was written to its end by somebody."""
    return line.endswith(b"\n") and _whole(line) is not None


def _with_sum(line: dict[str, Any]) -> str:
    """A line as text, its sum at the end: a bit that flips on the disk is no other count."""
    return json.dumps({**line, SUM: crc32(json.dumps(line).encode())})


def _whole(text: bytes) -> dict[str, Any] | None:
    """What a line says; None where it is not as it was written. Lines of before had no sum."""
    try:
        line = json.loads(text)
        told = line.pop(SUM, None)
        return line if told in (None, crc32(json.dumps(line).encode())) else None
    except (ValueError, RecursionError, AttributeError, TypeError):
        return None


def _asked(told: Mapping[str, Any]) -> Asked:
    if told["format"] > FORMAT:
        raise ValueError("written by a later version")
    asked = Asked(
        end=str(told["end"]),
        catalog=str(told["catalog"]),
        demo=bool(told["demo"]),
        digest=str(told["digest"]),
        family=str(told["family"]),
        title=str(told.get("title", "")),
    )
    if asked.end not in ENDS:
        raise ValueError(asked.end)
    return asked


def _step(told: Mapping[str, Any]) -> Step:
    step = Step(str(told["step"]), tuple(map(str, told.get("words", ()))), str(told.get("of", "")))
    if step.kind not in STEPS:
        raise ValueError(step.kind)
    if step.kind in (MARK, FEATURE) and len(step.words) != 1:
        raise ValueError(step.words)
    _ = step.seen
    return step


def _told(step: Step) -> dict[str, Any]:
    told: dict[str, Any] = {}
    if step.words:
        told["words"] = list(step.words)
    if step.of:
        told["of"] = step.of
    return told


def _broken(file: str, line: int) -> UserError:
    sentence = "the session cannot be read: this line is no entry that this version knows"
    return UserError(sentence, f"{file}, line {line}")


def _plain(value: Any) -> Any:
    """Return families and sets as plain lists and texts, for a digest."""
    if hasattr(value, "__dataclass_fields__"):
        return [_plain(getattr(value, name)) for name in value.__dataclass_fields__]
    if isinstance(value, Mapping):
        return [[key, _plain(item)] for key, item in value.items()]
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    return value
