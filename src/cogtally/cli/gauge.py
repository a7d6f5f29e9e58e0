"""`cogtally gauge`: which standard, helix and profile shift callipers' measurements speak for.

The arithmetic is left to `gears.callipers`, how a measurement is written to `gears.lengths`.
"""

import sys
from dataclasses import fields, replace

import typer

from cogtally.cli import options
from cogtally.cli.options import flag, option
from cogtally.gears import callipers
from cogtally.gears.errors import UserError
from cogtally.show.screen import note, say_notes, show_or_json

_AHEAD = (*callipers.KNOWN_KEYS, "teeth", "helix", "width")
_PAIR = ("centres", "tolerance", "helix-tolerance")


def gauge(
    context: typer.Context,
    teeth: str | None = option("TEETH", "Teeth counted; with --standard also 18-24 or 18,20,24."),
    outside: str | None = option(
        "LENGTH", "Diameter across the tips: 81.3, 81.3mm, 3.25in or 3+1/4in."
    ),
    jaws: str | None = option(
        "JAWS",
        "How the diameter was taken, where teeth are odd in number: points (narrow jaws, tip to "
        "tip), flat (a wide jaw on two tips) or true (needs no correction).",
    ),
    span: list[str] | None = option(
        "TEETH:LENGTH", "A span, 4:32.83. May be given again; two of them say most."
    ),
    helix: str | None = option("DEGREES", "Helix angle from the axis; 0 for straight teeth."),
    helix_at: str | None = option(
        "CIRCLE", "Where the helix was read: reference (if not given) or tip."
    ),
    centres: str | None = option(
        "LENGTH", "Distance to the shaft of its mate; with --mate or --pair."
    ),
    mate: str | None = option("TEETH", "Teeth of its mate."),
    width: str | None = option("LENGTH", "Width of the toothed face."),
    depth: str | None = option("LENGTH", "Whole depth of a tooth, tip to root."),
    unit: str | None = option("UNIT", "mm or in, for lengths without one. If not given: mm."),
    tolerance: str | None = option("LENGTH", "How near a reading is. If not given: 0.03 mm."),
    helix_tolerance: str | None = option(
        "DEGREES", "How near the helix was read. If not given: 1 degree."
    ),
    standard: str | None = option(
        "PITCH", "Print what to expect of a standard instead: module 2.5, 10dp or 6/8dp."
    ),
    angle: str | None = option("DEGREES", "Pressure angle of --standard. If not given: 20."),
    tooth: str | None = option("TOOTH", "full or stub teeth of --standard. If not given: full."),
    shift: str | None = option("SHIFT", "Profile shift of --standard in modules. If not given: 0."),
    pair: list[str] | None = option(
        "WHEEL",
        "Give it twice, with --centres: can these two run together? A wheel is written with the "
        "names of the options, teeth=24,outside=80.4,span=4:32.83, or as "
        "teeth=31,standard=3,shift=0.1; hand=left where it has a helix.",
    ),
    everything: bool = flag("--all", "Show every explanation, not the heaviest alone."),
    as_json: bool = options.JSON,
) -> None:
    """Find the standard of a gear by callipers.

    Module or diametral pitch, pressure angle, full or stub teeth, helix and profile shift; all
    that fit are listed, with the measurement that would part them.
    """
    # What is taken of a wheel is called as its option is.
    given = context.params
    names = (each.name for each in fields(callipers.Taken) if each.name in given)
    taken = callipers.Taken(**{**{n: given[n] for n in names}, "span": tuple(given["span"] or ())})
    if pair:
        _only(taken, _PAIR, "--pair")
        found = callipers.together(callipers.parse_pair(pair, taken), taken.centres, unit)
        from cogtally.show.gauge import show_together, together_json

        show_or_json(
            as_json, lambda: together_json(found), lambda console: show_together(found, console)
        )
    elif standard is not None:
        _only(taken, _AHEAD, "--standard")
        wheels, within, face = callipers.expected_of(taken, unit)
        from cogtally.show.gauge import ahead_json, show_ahead

        show_or_json(
            as_json,
            lambda: ahead_json(wheels),
            lambda console: show_ahead(wheels, within, face, console),
        )
    else:
        known = [name for name in callipers.KNOWN_KEYS if name in taken.written]
        if known:
            raise UserError("this goes with --standard", f"--{known[0]}", "add --standard 2.5")
        _show_gauging(taken, unit, everything, as_json)


def _show_gauging(
    taken: callipers.Taken, unit: str | None, everything: bool, as_json: bool
) -> None:
    if not taken.written:
        mend = "write what you measured, for example --teeth 24 --outside 80.4 --span 4:32.83"
        raise UserError("nothing measured was written", "cogtally gauge", mend)
    question = callipers.jaws_asked(taken)
    if question is not None:
        taken = replace(taken, jaws=_asked(question))
    seen = callipers.as_measured(taken, unit)
    with callipers.placed():
        answer = callipers.gauge(seen)
    from cogtally.show.gauge import gauging_json, notes, show_gauging

    show_or_json(
        as_json,
        lambda: gauging_json(answer),
        lambda console: show_gauging(answer, console, everything=everything),
    )
    say_notes(notes(seen))


def _only(taken: callipers.Taken, names: tuple[str, ...], job: str) -> None:
    """Refuse what does not go with a job."""
    strange = [name for name in taken.written if name not in names]
    if strange:
        mend = "write it inside the wheel it belongs to" if job == "--pair" else "leave one out"
        raise UserError(f"this does not go with {job}", f"--{strange[0]}", mend)


def _asked(question: str) -> str:
    """Ask at a terminal how a diameter was taken; elsewhere refuse what does not say it."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise callipers.jaws_missing(question)
    note(f"{question[0].upper()}{question[1:]} Write {callipers.JAWS_MEND}.")
    print("jaws> ", end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line.strip():
        raise callipers.jaws_missing(question)
    return line.strip()
