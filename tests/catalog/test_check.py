"""Every rule on values that have to fit together: what is said, and where.

What is said word for word stands in tests/snapshots/catalog/errors.txt and warnings.txt.
"""

import pytest

from catalog.sound import BROCHURE, COMPOUND, SLEEVE, SOUND, Case, listing, problems_of, spoilt

LATE, WIDE = 'id = "late"', 'id = "wide"'
SHORT_LAYGEAR = '["input.driven", "3.driver", "2.driver", "1.driver"]'
PAIRS = 'pairs = { input = "17/28", 1 = "14/31", 2 = "19/26", 3 = "24/21", R = "12/20/28" }'
ERRORS: dict[str, Case] = {
    "id_of_two_sets": ("id-twice", SOUND, [(LATE, WIDE)]),
    "no_set": ("no-sets", SOUND[: SOUND.index("[[set]]")], []),
    "set_of_nothing": ("empty-set", SOUND, [(PAIRS + "\n", "")]),
    "set_of_gaps": ("empty-set", SOUND, [(PAIRS, 'pairs = { input = "_/_", R = "_/_/_" }')]),
    "missing_pair": ("pairs-differ", SOUND, [(', 3 = "23/22"', "")]),
    "another_pair": ("pairs-differ", SOUND, [('3 = "23/22"', '5 = "23/22"')]),
    "missing_idler": ("pairs-differ", SOUND, [('R = "12/20/28" }\n\n', 'R = "12/28" }\n\n')]),
    "piece_of_an_unknown_wheel": ("piece-unknown-wheel", SLEEVE, [('"1.driven"', '"1.drivn"')]),
    "wheel_on_two_pieces": (
        "wheel-on-two-pieces",
        SLEEVE,
        [('["1.driven"]', '["1.driven", "2.driven"]')],
    ),
    "wheel_twice_on_a_piece": (
        "wheel-on-two-pieces",
        SLEEVE,
        [('["1.driver", "2.driver"]', '["1.driver", "1.driver", "2.driver"]')],
    ),
    "wheel_on_no_piece": ("wheel-on-no-piece", SLEEVE, [('1-gear = ["1.driven"]\n', "")]),
    "part_of_a_default_piece": (
        "wheel-on-no-piece",
        SOUND,
        [('direct = "4"', f'direct = "4"\npieces = {{ laygear = {SHORT_LAYGEAR} }}')],
    ),
    "piece_without_wheels": ("piece-empty", SLEEVE, [('["1.driven"]', "[]")]),
    "sleeve_without_pieces": (
        "wheel-on-no-piece",
        SLEEVE[: SLEEVE.index("[family.pieces]")] + SLEEVE[SLEEVE.index("[[set]]") :],
        [],
    ),
    "misspelt_pieces": ("unknown-key", SLEEVE, [("[family.pieces]", "[family.peices]")]),
    "second_name_with_other_teeth": ("same-teeth", COMPOUND, [('R2 = "17/30"', 'R2 = "17/29"')]),
    "second_name_of_no_wheel": ("same-wheel", COMPOUND, [('= "1.driven"', '= "7.driven"')]),
    "second_name_in_a_ring": (
        "same-wheel",
        COMPOUND,
        [('"R2.driven" = "1.driven"', '"R2.driven" = "R2.driven"')],
    ),
    "second_name_of_its_mate": ("same-wheel", COMPOUND, [('= "1.driven"', '= "R2.driver"')]),
    "path_of_no_pair": ("path-unknown-pair", COMPOUND, [('"R1", "R2"]\n\n', '"R1", "R3"]\n\n')]),
    "empty_path": ("path", COMPOUND, [('["input", "R1", "R2"]', "[]")]),
    "path_twice_through_a_pair": (
        "path",
        COMPOUND,
        [('["input", "R1", "R2"]', '["input", "R1", "R1", "R2"]')],
    ),
    "path_of_input": (
        "path",
        COMPOUND,
        [('R = ["input", "R1", "R2"]', 'R = ["input", "R1", "R2"]\ninput = ["input"]')],
    ),
    "layshaft_without_input": (
        "path-unknown-pair",
        SOUND,
        [('input = "17/28", ', ""), ('input = "18/27", ', "")],
    ),
    "direct_with_a_pair": ("direct", SOUND, [('direct = "4"', 'direct = "3"')]),
    "direct_is_input": ("direct", SOUND, [('direct = "4"', 'direct = "input"')]),
    "direct_with_a_path": ("direct", COMPOUND, [('direct = "3"', 'direct = "R"')]),
    "direct_of_two_shafts": ("direct", SOUND, [('"layshaft"', '"two-shaft"')]),
    "ratio_against_the_teeth": (
        "ratio-contradicts",
        SOUND,
        [(LATE, LATE + '\nratios = { 1 = "3.33" }')],
    ),
    "direct_ratio_not_one": (
        "ratio-contradicts",
        SOUND,
        [(LATE, LATE + '\nratios = { 4 = "1.05" }')],
    ),
    "ratio_beside_counted_teeth": (
        "ratios-impossible",
        SOUND,
        [("17/28", "30/15"), ("14/31", "36/_"), (WIDE, WIDE + '\nratios = { 1 = "3.9" }')],
    ),
    "ratio_of_no_teeth": ("ratios-impossible", SOUND + BROCHURE, [('1 = "3.29"', '1 = "400.1"')]),
    "ratio_of_direct": ("ratios-impossible", SOUND + BROCHURE, [('3 = "1.32"', '4 = "1.10"')]),
    "ratios_not_together": (
        "ratios-impossible",
        SOUND + BROCHURE,
        [
            (
                '{ 1 = "3.29", 2 = "2.06", 3 = "1.32" }',
                '{ 1 = "3.65141", 2 = "2.25312", 3 = "1.44123" }',
            )
        ],
    ),
    "mark_of_no_piece": (
        "unknown-key",
        SOUND,
        [(LATE, LATE + '\nmarks = { lay-gear = ["LG 1"] }')],
    ),
    "feature_of_no_piece": (
        "unknown-key",
        SOUND,
        [(LATE, LATE + "\nfeatures = { laygears = { splines = 10 } }")],
    ),
    "feature_of_no_wheel": (
        "unknown-key",
        SOUND,
        [(LATE, LATE + '\nfeatures = { "3.idler" = { hand = "left" } }')],
    ),
}

WARNINGS: dict[str, Case] = {
    "alike": (
        "sets-alike",
        SOUND,
        [('input = "18/27"', 'input = "17/28"'), ('3 = "23/22"', '3 = "24/21"')],
    ),
    "alike_but_marked": (
        "sets-alike",
        SOUND,
        [
            ('input = "18/27"', 'input = "17/28"'),
            ('3 = "23/22"', '3 = "24/21"'),
            (LATE, LATE + '\nmarks = { laygear = ["LG 1"] }'),
        ],
    ),
    "sums_apart": ("sums-apart", SOUND, [('3 = "23/22"', '3 = "23/26"')]),
    "reverse_touches": (
        "reverse-touches",
        SOUND,
        [('R = "12/20/28" }\n\n', 'R = "14/20/28" }\n\n')],
    ),
    "compound_reverse_touches": (
        "reverse-touches",
        COMPOUND,
        [('1 = "17/29", 2 = "25/21", R1 = "12/14"', '1 = "17/29", 2 = "25/21", R1 = "14/14"')],
    ),
    "few_teeth": ("few-teeth", SOUND, [('"14/31"', '"8/37"')]),
    "mark_on_two_types": (
        "mark-twice",
        SOUND,
        [
            (WIDE, WIDE + '\nmarks = { laygear = ["LG 1"] }'),
            (LATE, LATE + '\nmarks = { laygear = ["LG 1"] }'),
        ],
    ),
    "mark_on_two_pieces": (
        "mark-twice",
        SOUND,
        [(LATE, LATE + '\nmarks = { laygear = ["LG 1"], 3-gear = ["LG 1"] }')],
    ),
    "one_set": ("one-set", SOUND[: SOUND.rindex("[[set]]")], []),
    "no_source": ("no-source", SOUND, [('source = "counted on the bench, one box"\n', "")]),
    "final_by_rule": (
        "final-by-rule",
        SOUND,
        [
            ('3 = "24/21"', '3 = "24/21", final = "15/60"'),
            ('3 = "23/22"', '3 = "23/22", final = "15/60"'),
        ],
    ),
    "ratio_of_no_gear": ("ratio-unchecked", SOUND, [(LATE, LATE + '\nratios = { 5 = "0.80" }')]),
}


@pytest.mark.parametrize("name", ERRORS)
def test_error(name):
    """A broken rule is said once, as an error, and nothing else is said because of it."""
    code, text, changes = ERRORS[name]
    found = problems_of(spoilt(text, *changes))
    assert [(p.severity, p.code) for p in found] == [("error", code)]


@pytest.mark.parametrize("name", WARNINGS)
def test_warning(name):
    """What is odd but allowed is said once, as a warning."""
    code, text, changes = WARNINGS[name]
    found = problems_of(spoilt(text, *changes))
    assert [(p.severity, p.code) for p in found] == [("warning", code)]


@pytest.mark.parametrize("text", [SOUND, SOUND + BROCHURE, SLEEVE, COMPOUND])
def test_sound(text):
    """A sound catalog has no problem."""
    assert problems_of(text) == []


def test_words(snapshot):
    """Every broken rule and every oddity has its place, what was read and what would be right."""
    snapshot("catalog/errors", listing(ERRORS))
    snapshot("catalog/warnings", listing(WARNINGS))
