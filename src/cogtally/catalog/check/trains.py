"""Rules on how the pairs of a family make a gearbox: names, paths, shared wheels, sums.

And pieces, marks and features on what is there. Printed ratios belong to `ratios`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from cogtally.catalog.draft import Draft
from cogtally.catalog.find import did_you_mean, nearest
from cogtally.catalog.model import Family, RatioSet
from cogtally.catalog.problem import Finding
from cogtally.gears import trains
from cogtally.gears.errors import shown

#: Two tips of one module each: so many teeth more than their own wheels need.
TIPS = 4


def known_pairs(family: Family) -> Mapping[str, int]:
    """Return the pairs of a family with their numbers of wheels.

    A family of ratio-only sets alone has those of its printed gears and of its spelled-out paths.
    """
    pairs = dict(family.train.pairs)
    if not family.counted_sets:
        for pair in (p for path in family.paths.values() for p in path):
            pairs.setdefault(pair, 2)
    return pairs


def known_wheels(family: Family) -> tuple[str, ...]:
    """Return every wheel of a family by every name, as far as pairs tell."""
    if family.counted_sets:
        return tuple(
            w for pair, size in known_pairs(family).items() for w in trains.wheel_names(pair, size)
        )
    return tuple(f"{pair}.{role}" for pair in known_pairs(family) for role in trains.ROLES_OF_THREE)


def check_train(family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the direct gear, the shared wheels and the paths of a family."""
    yield from _direct(family)
    yield from _same(family)
    yield from _paths(family)
    yield from _final(family)


def misnamed(family: Family) -> set[str]:
    """Return the wheels that a wrong line of shared wheels is about."""
    bad = {f.key.removeprefix("same.") for f in _same(family)}
    return bad | {family.same[alias] for alias in bad}


def with_good_names(family: Family) -> Family:
    """Return the family less the shared wheels that name what is not there."""
    bad = {f.key.removeprefix("same.") for f in _same(family)}
    return replace(family, same={a: w for a, w in family.same.items() if a not in bad})


def _direct(family: Family) -> Iterator[Finding]:
    direct = family.direct
    if direct is None:
        return
    if family.layout not in trains.SHARED:
        sentence = f"a {family.layout} box has no direct gear"
        yield Finding("direct", sentence, "take the key out", None, "direct")
    elif direct in trains.NO_GEAR:
        sentence = f"direct is {direct}, which is a pair and no gear"
        yield Finding("direct", sentence, 'name a gear: direct = "4"', None, "direct")
    elif direct in family.paths:
        sentence = f"gear {shown(direct)} is direct and has a spelled-out path too"
        yield Finding("direct", sentence, "take one of them out", None, "direct")
    elif any(direct in known.pairs for known in family.counted_sets):
        sentence = f"gear {shown(direct)} is direct and has a pair of its own too"
        mend = "the direct gear locks input to output: take the pair out, or name another gear"
        yield Finding("direct", sentence, mend, None, "direct")


def _same(family: Family) -> Iterator[Finding]:
    wheels = known_wheels(family)
    meshes = {
        frozenset(mesh)
        for pair, size in known_pairs(family).items()
        for mesh in pairwise(trains.wheel_names(pair, size))
    }
    for alias, wheel in family.same.items():
        key = f"same.{alias}"
        for name in (alias, wheel):
            if name not in wheels:
                sentence = f"no pair has a wheel '{shown(name)}'"
                yield Finding("same-wheel", sentence, did_you_mean(name, wheels), None, key)
                break
        else:
            if _leads_back(family.same, alias):
                sentence = f"{alias} is said to be itself"
                mend = "name the second name first, then the one that is kept"
                yield Finding("same-wheel", sentence, mend, None, key)
            elif frozenset((alias, family.train.canonical(alias))) in meshes:
                sentence = f"{alias} cannot be the wheel that it meshes with"
                yield Finding("same-wheel", sentence, "", None, key)


def _leads_back(same: Mapping[str, str], alias: str) -> bool:
    at = same[alias]
    for _ in same:
        if at == alias:
            return True
        at = same.get(at, "")
    return False


def _paths(family: Family) -> Iterator[Finding]:
    pairs = family.train.pairs
    for gear, path in family.paths.items():
        key = f"paths.{gear}"
        if gear in trains.NO_GEAR:
            sentence = f"{gear} is a pair and no gear"
            yield Finding("path", sentence, "give the paths of gears: 1, 2, R", None, key)
        if not path:
            mend = f'write direct = "{gear}" for a gear that locks input to output'
            yield Finding("path", f"the path of gear {gear} is empty", mend, None, key)
        twice = sorted({pair for pair in path if path.count(pair) > 1})
        if twice:
            sentence = f"the path of gear {gear} names {shown(twice[0])} twice"
            yield Finding("path", sentence, "a path runs through a pair once", None, key)
        for pair in dict.fromkeys(path) if family.counted_sets else ():
            if pair not in pairs:
                sentence = f"the path of gear {gear} names pair {shown(pair)}, which is not there"
                mend = did_you_mean(pair, pairs)
                yield Finding("path-unknown-pair", sentence, mend, None, key)
    yield from _rule_paths(family)


def _rule_paths(family: Family) -> Iterator[Finding]:
    """The layout's rule leads every gear through a pair that has to be there."""
    shared = trains.SHARED.get(family.layout)
    train = family.train
    if shared is None or not family.counted_sets or shared in train.pairs:
        return
    by_rule = [g for g in train.gears if g not in family.paths and g != family.direct]
    if by_rule:
        sentence = (
            f"in a {family.layout} box gear {by_rule[0]} runs through pair {shared}, "
            "which is not there"
        )
        mend = f"give {shared} in every set, with _ where nobody counted, or spell out the paths"
        yield Finding("path-unknown-pair", sentence, mend, None, "layout")


def _final(family: Family) -> Iterator[Finding]:
    shared = trains.SHARED.get(family.layout)
    if shared and trains.FINAL in family.train.pairs and trains.FINAL not in family.paths:
        sentence = f"by the rule of a {family.layout} box final would run through pair {shared} too"
        path = f'{trains.FINAL} = ["{trains.FINAL}"]'
        mend = f"if it stands alone, give its path, {path}, and all pieces"
        yield Finding("final-by-rule", sentence, mend, None, "layout")


def check_shared_wheels(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield every wheel of two names that has different teeth under them, set by set."""
    for number, known in enumerate(draft.family.sets):
        first: dict[str, tuple[str, int]] = {}
        for pair, teeth in known.pairs.items():
            for wheel, count in zip(trains.wheel_names(pair, len(teeth)), teeth, strict=True):
                if count is None:
                    continue
                name, other = first.setdefault(family.train.canonical(wheel), (wheel, count))
                if other != count:
                    sentence = (
                        f"{name} and {wheel} are one wheel, but have {other} and {count} teeth"
                    )
                    yield Finding("same-teeth", sentence, "count again", number, f"pairs.{pair}")


def check_sums(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield warnings on tooth sums that shafts at one distance hardly allow, set by set."""
    groups = trains.same_shafts(family.train)
    gear_pairs = [pair for group in groups for pair in group] or [
        p
        for p, size in family.train.pairs.items()
        if size == 2 and p not in (trains.FINAL, trains.REVERSE)
    ]
    for number, known in enumerate(draft.family.sets):
        for group in groups:
            sums = _sums(known, group)
            if sums and max(sums.values()) - min(sums.values()) > trains.MOST_SUMS_APART:
                low, high = min(sums, key=sums.__getitem__), max(sums, key=sums.__getitem__)
                middle = sorted(sums.values())[len(sums) // 2]
                odd = high if sums[high] - middle > middle - sums[low] else low
                sentence = (
                    f"pair {high} has {sums[high]} teeth together, pair {low} {sums[low]}, "
                    "on the same two shafts"
                )
                mend = f"sums more than {trains.MOST_SUMS_APART} apart hardly run; count both again"
                yield Finding("sums-apart", sentence, mend, number, f"pairs.{odd}")
        if family.layout != "axle":
            yield from _reverse(family, number, known, _sums(known, gear_pairs))


def _sums(known: RatioSet, pairs: Sequence[str]) -> dict[str, int]:
    """The tooth sum of each of the pairs of two wheels where both are counted."""
    sums: dict[str, int] = {}
    for pair in pairs:
        counted = [t for t in known.pairs.get(pair, ()) if t is not None]
        if len(counted) == 2 == len(known.pairs[pair]):
            sums[pair] = sum(counted)
    return sums


def _reverse(
    family: Family, number: int, known: RatioSet, sums: Mapping[str, int]
) -> Iterator[Finding]:
    """The first and the last wheel of a reverse stand on the two shafts and must not meet."""
    path = family.path_of(trains.REVERSE)
    own = [pair for pair in path if pair in known.pairs and pair not in trains.NO_GEAR]
    others = {pair: total for pair, total in sums.items() if pair not in own}
    if not own or not others or (len(own) == 1 and len(known.pairs[own[0]]) == 2):
        return
    driver, driven = known.pairs[own[0]][0], known.pairs[own[-1]][-1]
    if driver is None or driven is None:
        return
    room = max(others.values())
    if driver + driven + TIPS > room:
        first, last = f"{own[0]}.driver", f"{own[-1]}.driven"
        sentence = (
            f"{first} ({driver}) and {last} ({driven}) would touch: with {TIPS} for their tips "
            f"they come to {driver + driven + TIPS}, where the other pairs have {room}"
        )
        yield Finding("reverse-touches", sentence, "count both again", number, f"pairs.{own[-1]}")


def check_pieces(draft: Draft, family: Family) -> Iterator[Finding]:
    """Yield what is wrong with the pieces of a family (of `draft`, its sets of one shape).

    And with the marks and features of its sets, which name wheels and pieces.
    """
    wheels = known_wheels(family)
    kept = family.train.canonical
    good: dict[str, tuple[str, ...]] = {}
    meant = misnamed(replace(family, same=draft.family.same))
    place: dict[str, str] = {}
    for name, named in family.given_pieces.items():
        key = f"pieces.{name}"
        if not named and (None, "pieces") not in draft.spoilt:
            sentence = f"the piece {name} has no wheel"
            yield Finding("piece-empty", sentence, "list its wheels along the axis", None, key)
        known = []
        for at, wheel in enumerate(named):
            if wheel not in wheels:
                meant.update(map(kept, nearest(wheel, wheels)))
                sentence = f"the piece {name} names '{shown(wheel)}', a wheel that no pair has"
                mend = did_you_mean(wheel, wheels)
                yield Finding("piece-unknown-wheel", sentence, mend, None, key)
            elif wheel in named[:at]:
                sentence = f"the piece {name} lists {wheel} twice"
                yield Finding("wheel-on-two-pieces", sentence, "list it once", None, key)
            elif place.setdefault(kept(wheel), name) != name:
                sentence = f"{wheel} is on two pieces, {place[kept(wheel)]} and {name}"
                names = [n for n, k in family.train.names.items() if k == kept(wheel)]
                alike = f"; {' and '.join(names)} are one wheel" if len(names) > 1 else ""
                mend = f"a wheel is on one piece{alike}"
                yield Finding("wheel-on-two-pieces", sentence, mend, None, key)
            else:
                known.append(wheel)
        if known:
            good[name] = tuple(known)
    family = replace(family, given_pieces=good)
    # An empty piece, or a table that was not read, is where a missing wheel belongs.
    whole = not {(None, "pieces"), (None, "same")} & draft.spoilt
    if family.counted_sets and whole and all(draft.family.given_pieces.values()):
        yield from _without_piece(family, meant)
    if family.counted_sets:
        yield from _owners(draft, family)


def _without_piece(family: Family, meant: set[str]) -> Iterator[Finding]:
    if not family.pieces:
        why = "spelled-out paths" if family.paths else f"the layout {family.layout}"
        sentence = f"no pieces are given, and a family with {why} has none by itself"
        mend = 'write [family.pieces] in TOML and below it every wheel: "1-gear" = ["1.driven"]'
        yield Finding("wheel-on-no-piece", sentence, mend, None, "pieces")
        return
    for wheel in family.train.wheels:
        if wheel not in family.piece_of and wheel not in meant:
            sentence = f"{wheel} is on no piece"
            mend = f'name it under [family.pieces]: "…" = ["{wheel}"]'
            yield Finding("wheel-on-no-piece", sentence, mend, None, "pieces")


def _owners(draft: Draft, family: Family) -> Iterator[Finding]:
    """Marks and features belong to pieces and wheels that the family has."""
    pieces = {*(piece.name for piece in family.pieces), *family.given_pieces}
    pieces.update(draft.family.given_pieces)
    wheels = set(known_wheels(family)) | set(family.train.names)
    order = [piece.name for piece in family.pieces]
    for number, known in enumerate(draft.family.sets):
        for piece in known.marks:
            if piece not in pieces:
                sentence = f"the family has no piece '{shown(piece)}'"
                mend = did_you_mean(piece, order)
                yield Finding("unknown-key", sentence, mend, number, f"marks.{piece}")
        for owner in known.features:
            if owner not in pieces and owner not in wheels:
                sentence = f"the family has no wheel and no piece '{shown(owner)}'"
                near = known_wheels(family) if "." in owner else order
                mend = did_you_mean(owner, near)
                yield Finding("unknown-key", sentence, mend, number, f"features.{owner}")
