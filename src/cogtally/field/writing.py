"""The page put together: one file with everything inside, or a folder that can be installed.

What its tables hold is left to `tables`, what it does to the files in `page/`.
"""

from __future__ import annotations

import json
import os
import re
from base64 import b64encode
from collections.abc import Mapping
from hashlib import sha256
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

from cogtally.field.icons import MASKED, SIZES, icon_png, icon_svg
from cogtally.gears.errors import UserError
from cogtally.store import write_whole

NAME = "Gear finder"
ENDINGS = (".html", ".htm")
INDEX, MANIFEST, WORKER = "index.html", "manifest.webmanifest", "worker.js"
#: The module that all others are asked by.
START = "start"
#: The colours of the page, for what a telephone draws round it: light, and dark.
LIGHT, DARK = "#ffffff", "#000000"

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./(\w+)\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const) (\w+))", re.MULTILINE)


def asked_place(out: str | None, *, force: bool = False) -> tuple[Path, bool]:
    """Return where the page is to be written, and whether that is a folder.

    Raises UserError for a name that is neither, and for what is there already, unless `force`.
    """
    mend = "write --out field.html for one file, or --out FOLDER/ for a folder"
    if out is None or not out.strip() or "\0" in out:
        raise UserError("it is not said where to write the page", "cogtally field", mend)
    path = Path(out).expanduser()
    is_folder = out.endswith(("/", os.sep)) or path.is_dir()
    if not is_folder and path.suffix.lower() not in ENDINGS:
        raise UserError("the name does not end as a page's does", f"--out {out}", mend)
    if not path.parent.is_dir():
        raise UserError(f"there is no folder {path.parent}", f"--out {out}", "make it first")
    if is_folder and path.exists() and not path.is_dir():
        raise UserError("a file of that name is there", f"--out {out}", "take another name")
    there = [path / name for name in _names()] if is_folder else [path]
    taken = next((one for one in there if one.exists()), None)
    if taken is not None and not force:
        over = "take another name, or write over it with --force"
        raise UserError(f"{taken.name} is there already", f"--out {out}", over)
    return path, is_folder


def write_page(tables: Mapping[str, Any], place: Path, *, is_folder: bool) -> None:
    """Write the page, as one file or as a folder.

    Raises UserError where the disk does not take it. Every file appears whole.
    """
    page = page_html(tables, is_folder=is_folder).encode()
    if not is_folder:
        write_whole({place: page})
        return
    found = {INDEX: page, MANIFEST: _manifest(tables).encode()}
    found.update((f"icon-{size}.png", icon_png(size)) for size in SIZES)
    found[MASKED] = icon_png(max(SIZES), masked=True)
    sums = {name: sha256(data).hexdigest() for name, data in found.items()}
    worker = _text(WORKER).replace("{{files}}", json.dumps(sums, indent=2))
    # A page made later has a later name; two made in one second are told apart by what they hold.
    made = f"{tables['catalog']['made']} {sums[INDEX][:16]}"
    found[WORKER] = worker.replace("{{made}}", made).encode()
    try:
        place.mkdir(exist_ok=True)
    except OSError as error:
        raise _refused(error, place) from error
    # The worker comes last: it stores nothing but files that are there whole.
    write_whole({place / name: data for name, data in found.items()})


def page_html(tables: Mapping[str, Any], *, is_folder: bool = False) -> str:
    """Return the page: HTML with its style, script and tables inside, and a policy for no other."""
    script, style = script_of(), _text("page.css")
    policy = [
        "default-src 'none'",
        f"script-src {_hash(script)}",
        f"style-src {_hash(style)}",
        "img-src 'self' data:" if is_folder else "img-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    svg = b64encode(icon_svg().encode()).decode()
    head = [f'<link rel="icon" href="data:image/svg+xml;base64,{svg}">']
    if not is_folder:
        # No text becomes markup by mistake. (A worker could not be registered under this.)
        policy.append("require-trusted-types-for 'script'")
    else:
        # The page itself fetches nothing; its worker may keep what lies beside it.
        policy += ["manifest-src 'self'", "worker-src 'self'"]
        head = [
            f'<link rel="icon" href="icon-{min(SIZES)}.png">',
            f'<link rel="apple-touch-icon" href="icon-{min(SIZES)}.png">',
            f'<link rel="manifest" href="{MANIFEST}">',
            f'<meta name="worker" content="{WORKER}">',
            f'<meta name="theme-color" media="(prefers-color-scheme: light)" content="{LIGHT}">',
            f'<meta name="theme-color" media="(prefers-color-scheme: dark)" content="{DARK}">',
        ]
    title = f"{NAME}: {tables['catalog']['name'] or 'catalog'}"
    filled = {
        "policy": escape("; ".join(policy)),
        "head": "\n".join(head),
        "title": escape(title),
        "style": style,
        "tables": _inside(tables),
        "script": script,
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda found: filled[found[1]], _text("page.html"))


def script_of() -> str:
    """Return all modules as one script, each a function that gives what it exports.

    A page that is opened from a file may not import; so each module is called once, after those
    that it imports from.
    """
    done: dict[str, str] = {}

    def take(name: str) -> None:
        source = _text(f"{name}.js")
        for found in _IMPORT.finditer(source):
            if found[2] not in done:
                take(found[2])
        exported = ", ".join(found[1] for found in _EXPORT.finditer(source))
        body = _EXPORT.sub("", _IMPORT.sub(r"const {\1} = of_\2;\n", source))
        done[name] = f"const of_{name} = (() => {{\n{body}return {{ {exported} }};\n}})();\n"

    take(START)
    return '"use strict";\n' + "".join(done.values())


def _manifest(tables: Mapping[str, Any]) -> str:
    icons = [
        {"src": f"icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"}
        for size in SIZES
    ]
    most = max(SIZES)
    icons.append(
        {"src": MASKED, "sizes": f"{most}x{most}", "type": "image/png", "purpose": "maskable"}
    )
    return json.dumps(
        {
            "name": f"{NAME}: {tables['catalog']['name'] or 'catalog'}",
            "short_name": NAME,
            "lang": "en",
            "id": "./",
            "start_url": "./",
            "scope": "./",
            "display": "standalone",
            "background_color": LIGHT,
            "theme_color": LIGHT,
            "icons": icons,
        },
        ensure_ascii=False,
        indent=2,
    )


def _names() -> tuple[str, ...]:
    return (INDEX, MANIFEST, WORKER, MASKED, *(f"icon-{size}.png" for size in SIZES))


def _text(name: str) -> str:
    return (files("cogtally.field") / "page" / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def _inside(tables: Mapping[str, Any]) -> str:
    """JSON that can stand in a page: no text of a catalog ends it."""
    text = json.dumps(tables, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    # Half a character that a catalog may hold cannot be written: it becomes the sign for that.
    return text.encode("utf-8", "replace").decode("utf-8")


def _refused(error: OSError, path: Path) -> UserError:
    reason = (error.strerror or str(error)).lower()
    return UserError(f"it cannot be written: {reason}", str(path))
