"""Every rule on a single value: what is said, and where.

What is said word for word stands in tests/snapshots/catalog/values.txt.
"""

from catalog.sound import COMPOUND, SLEEVE, SOUND, late, listing, spoilt

CASES = {
    "misspelt_family_key": spoilt(SOUND, ("layout =", "layot =")),
    "misspelt_set_key": spoilt(SOUND, ("source =", "sorce =")),
    "misspelt_pairs": spoilt(SOUND, ("pairs =", "pears =")),
    "family_without_id": spoilt(SOUND, ('id = "ash-4"\n', "")),
    "set_without_id": spoilt(SOUND, ('id = "wide"\n', "")),
    "empty_id": spoilt(SOUND, ('id = "wide"', 'id = ""')),
    "capitals_in_an_id": spoilt(SOUND, ('"ash-4"', '"Ash 4!"')),
    "unknown_layout": spoilt(SOUND, ('"layshaft"', '"lay-shaft"')),
    "no_layout": spoilt(SOUND, ('layout = "layshaft"\n', "")),
    "too_few_teeth": spoilt(SOUND, ("14/31", "3/31")),
    "too_many_teeth": spoilt(SOUND, ("14/31", "201/31")),
    "broken_teeth": spoilt(SOUND, ("14/31", "14.5/31")),
    "no_count": spoilt(SOUND, ("14/31", "/31")),
    "digits_of_another_script": spoilt(SOUND, ("14/31", "1٤/31")),
    "one_wheel": spoilt(SOUND, ("14/31", "14")),
    "four_wheels": spoilt(SOUND, ("14/31", "14/15/16/31")),
    "number_for_a_pair": spoilt(SOUND, ('"14/31"', "14")),
    "pair_of_a_bad_name": spoilt(SOUND, ('1 = "14/31"', '1st_gear = "14/31"')),
    "number_for_direct": spoilt(SOUND, ('direct = "4"', "direct = 4")),
    "text_for_aliases": late('aliases = "x"'),
    "number_for_a_note": spoilt(SOUND, ('direct = "4"', 'direct = "4"\nnote = 3')),
    "text_for_a_length": spoilt(SOUND, ('direct = "4"', 'direct = "4"\ncentre_distance_mm = "67"')),
    "date_for_a_name": late("name = 2041-09-01"),
    "number_for_a_ratio": late("ratios = { 1 = 3.32 }"),
    "comma_in_a_ratio": late('ratios = { 1 = "3,32" }'),
    "ratio_of_zero": late('ratios = { 1 = "0.00" }'),
    "negative_ratio": late('ratios = { 1 = "-3.32" }'),
    "ratio_of_input": late('ratios = { input = "1.50" }'),
    "commonness_of_zero": late("commonness = 0"),
    "commonness_as_text": late('commonness = "3"'),
    "commonness_not_a_number": late("commonness = nan"),
    "endless_commonness": late("commonness = inf"),
    "true_commonness": late("commonness = true"),
    "enormous_commonness": late("commonness = 0xffffffffffffffffffff"),
    "text_for_marks": late('marks = { laygear = "LG 1" }'),
    "features_of_an_unquoted_wheel": late('features = { 3.driver = { hand = "left" } }'),
    "true_feature": late("features = { laygear = { splines = true } }"),
    "feature_not_a_number": late("features = { laygear = { bore_mm = nan } }"),
    "number_for_features": late("features = { laygear = 3 }"),
    "one_bracket_for_a_set": spoilt(SOUND[: SOUND.rindex("[[set]]")], ("[[set]]", "[set]")),
    "shared_wheel_unquoted": spoilt(
        COMPOUND, ('"R2.driven" = "1.driven"', 'R2.driven = "1.driven"')
    ),
    "piece_of_an_unquoted_wheel": spoilt(
        SLEEVE, ('1-gear = ["1.driven"]', '1.gear = ["1.driven"]')
    ),
}


def test_words(snapshot):
    """Every problem of a value has its place, what was read and what would be right."""
    snapshot("catalog/values", listing(CASES))
