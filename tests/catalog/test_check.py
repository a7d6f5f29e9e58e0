"""Every rule on values that have to fit together: what is said, and where.

What is said word for word stands in tests/snapshots/catalog/errors.txt and warnings.txt.
"""

import pytest

from catalog.sound import BROCHURE, COMPOUND, SLEEVE, SOUND, late, listing, problems_of, spoilt

LATE, WIDE = 'id = "late"', 'id = "wide"'
SHORT_LAYGEAR = '["input.driven", "3.driver", "2.driver", "1.driver"]'
PAIRS = 'pairs = { input = "17/28", 1 = "14/31", 2 = "19/26", 3 = "24/21", R = "12/20/28" }'
ERRORS = {
    "id_of_two_sets": spoilt(SOUND, (LATE, WIDE)),
    "no_set": SOUND[: SOUND.index("[[set]]")],
    "set_of_nothing": spoilt(SOUND, (PAIRS + "\n", "")),
    "set_of_gaps": spoilt(SOUND, (PAIRS, 'pairs = { input = "_/_", R = "_/_/_" }')),
    "missing_pair": spoilt(SOUND, (', 3 = "23/22"', "")),
    "another_pair": spoilt(SOUND, ('3 = "23/22"', '5 = "23/22"')),
    "missing_idler": spoilt(SOUND, ('R = "12/20/28" }\n\n', 'R = "12/28" }\n\n')),
    "piece_of_an_unknown_wheel": spoilt(SLEEVE, ('"1.driven"', '"1.drivn"')),
    "wheel_on_two_pieces": spoilt(SLEEVE, ('["1.driven"]', '["1.driven", "2.driven"]')),
    "wheel_twice_on_a_piece": spoilt(
        SLEEVE, ('["1.driver", "2.driver"]', '["1.driver", "1.driver", "2.driver"]')
    ),
    "wheel_on_no_piece": spoilt(SLEEVE, ('1-gear = ["1.driven"]\n', "")),
    "part_of_a_default_piece": spoilt(
        SOUND, ('direct = "4"', f'direct = "4"\npieces = {{ laygear = {SHORT_LAYGEAR} }}')
    ),
    "piece_without_wheels": spoilt(SLEEVE, ('["1.driven"]', "[]")),
    "sleeve_without_pieces": SLEEVE[: SLEEVE.index("[family.pieces]")]
    + SLEEVE[SLEEVE.index("[[set]]") :],
    "misspelt_pieces": spoilt(SLEEVE, ("[family.pieces]", "[family.peices]")),
    "second_name_with_other_teeth": spoilt(COMPOUND, ('R2 = "17/30"', 'R2 = "17/29"')),
    "second_name_of_no_wheel": spoilt(COMPOUND, ('= "1.driven"', '= "7.driven"')),
    "second_name_in_a_ring": spoilt(
        COMPOUND, ('"R2.driven" = "1.driven"', '"R2.driven" = "R2.driven"')
    ),
    "second_name_of_its_mate": spoilt(COMPOUND, ('= "1.driven"', '= "R2.driver"')),
    "path_of_no_pair": spoilt(COMPOUND, ('"R1", "R2"]\n\n', '"R1", "R3"]\n\n')),
    "empty_path": spoilt(COMPOUND, ('["input", "R1", "R2"]', "[]")),
    "path_twice_through_a_pair": spoilt(
        COMPOUND, ('["input", "R1", "R2"]', '["input", "R1", "R1", "R2"]')
    ),
    "path_of_input": spoilt(
        COMPOUND, ('R = ["input", "R1", "R2"]', 'R = ["input", "R1", "R2"]\ninput = ["input"]')
    ),
    "layshaft_without_input": spoilt(SOUND, ('input = "17/28", ', ""), ('input = "18/27", ', "")),
    "direct_with_a_pair": spoilt(SOUND, ('direct = "4"', 'direct = "3"')),
    "direct_is_input": spoilt(SOUND, ('direct = "4"', 'direct = "input"')),
    "direct_with_a_path": spoilt(COMPOUND, ('direct = "3"', 'direct = "R"')),
    "direct_of_two_shafts": spoilt(SOUND, ('"layshaft"', '"two-shaft"')),
    "ratio_against_the_teeth": late('ratios = { 1 = "3.33" }'),
    "direct_ratio_not_one": late('ratios = { 4 = "1.05" }'),
    "ratio_beside_counted_teeth": spoilt(
        SOUND, ("17/28", "30/15"), ("14/31", "36/_"), (WIDE, WIDE + '\nratios = { 1 = "3.9" }')
    ),
    "ratio_of_no_teeth": spoilt(SOUND + BROCHURE, ('1 = "3.29"', '1 = "400.1"')),
    "ratio_of_direct": spoilt(SOUND + BROCHURE, ('3 = "1.32"', '4 = "1.10"')),
    "ratios_not_together": spoilt(
        SOUND + BROCHURE,
        (
            '{ 1 = "3.29", 2 = "2.06", 3 = "1.32" }',
            '{ 1 = "3.65141", 2 = "2.25312", 3 = "1.44123" }',
        ),
    ),
    "mark_of_no_piece": late('marks = { lay-gear = ["LG 1"] }'),
    "feature_of_no_piece": late("features = { laygears = { splines = 10 } }"),
    "feature_of_no_wheel": late('features = { "3.idler" = { hand = "left" } }'),
}

WARNINGS = {
    "alike": spoilt(SOUND, ('input = "18/27"', 'input = "17/28"'), ('3 = "23/22"', '3 = "24/21"')),
    "alike_but_marked": spoilt(
        SOUND,
        ('input = "18/27"', 'input = "17/28"'),
        ('3 = "23/22"', '3 = "24/21"'),
        (LATE, LATE + '\nmarks = { laygear = ["LG 1"] }'),
    ),
    "sums_apart": spoilt(SOUND, ('3 = "23/22"', '3 = "23/26"')),
    "reverse_touches": spoilt(SOUND, ('R = "12/20/28" }\n\n', 'R = "14/20/28" }\n\n')),
    "compound_reverse_touches": spoilt(
        COMPOUND,
        ('1 = "17/29", 2 = "25/21", R1 = "12/14"', '1 = "17/29", 2 = "25/21", R1 = "14/14"'),
    ),
    "few_teeth": spoilt(SOUND, ('"14/31"', '"8/37"')),
    "mark_on_two_types": spoilt(
        SOUND,
        (WIDE, WIDE + '\nmarks = { laygear = ["LG 1"] }'),
        (LATE, LATE + '\nmarks = { laygear = ["LG 1"] }'),
    ),
    "mark_on_two_pieces": late('marks = { laygear = ["LG 1"], 3-gear = ["LG 1"] }'),
    "one_set": SOUND[: SOUND.rindex("[[set]]")],
    "no_source": spoilt(SOUND, ('source = "counted on the bench, one box"\n', "")),
    "final_by_rule": spoilt(
        SOUND,
        ('3 = "24/21"', '3 = "24/21", final = "15/60"'),
        ('3 = "23/22"', '3 = "23/22", final = "15/60"'),
    ),
    "ratio_of_no_gear": late('ratios = { 5 = "0.80" }'),
}


@pytest.mark.parametrize("text", [SOUND, SOUND + BROCHURE, SLEEVE, COMPOUND])
def test_sound(text):
    """A sound catalog has no problem."""
    assert problems_of(text) == []


def test_words(snapshot):
    """Every broken rule or oddity is said once, with its place, what was read and what is right."""
    snapshot("catalog/errors", listing(ERRORS))
    snapshot("catalog/warnings", listing(WARNINGS))
