"""Every rule on a single value: what is said, and where.

What is said word for word stands in tests/snapshots/catalog/values.txt.
"""

import pytest

from catalog.sound import COMPOUND, SLEEVE, SOUND, Case, listing, problems_of, spoilt

CASES: dict[str, Case] = {
    "misspelt_family_key": ("unknown-key", SOUND, [("layout =", "layot =")]),
    "misspelt_set_key": ("unknown-key", SOUND, [("source =", "sorce =")]),
    "misspelt_pairs": ("unknown-key", SOUND, [("pairs =", "pears =")]),
    "family_without_id": ("missing-id", SOUND, [('id = "ash-4"\n', "")]),
    "set_without_id": ("missing-id", SOUND, [('id = "wide"\n', "")]),
    "empty_id": ("missing-id", SOUND, [('id = "wide"', 'id = ""')]),
    "capitals_in_an_id": ("bad-id", SOUND, [('"ash-4"', '"Ash 4!"')]),
    "unknown_layout": ("layout", SOUND, [('"layshaft"', '"lay-shaft"')]),
    "no_layout": ("layout", SOUND, [('layout = "layshaft"\n', "")]),
    "too_few_teeth": ("teeth", SOUND, [("14/31", "3/31")]),
    "too_many_teeth": ("teeth", SOUND, [("14/31", "201/31")]),
    "broken_teeth": ("teeth", SOUND, [("14/31", "14.5/31")]),
    "no_count": ("teeth", SOUND, [("14/31", "/31")]),
    "digits_of_another_script": ("teeth", SOUND, [("14/31", "1٤/31")]),
    "one_wheel": ("chain", SOUND, [("14/31", "14")]),
    "four_wheels": ("chain", SOUND, [("14/31", "14/15/16/31")]),
    "number_for_a_pair": ("wrong-kind", SOUND, [('"14/31"', "14")]),
    "pair_of_a_bad_name": ("bad-name", SOUND, [('1 = "14/31"', '1st_gear = "14/31"')]),
    "number_for_direct": ("wrong-kind", SOUND, [('direct = "4"', "direct = 4")]),
    "text_for_aliases": ("wrong-kind", SOUND, [('id = "late"', 'id = "late"\naliases = "x"')]),
    "number_for_a_note": ("wrong-kind", SOUND, [('direct = "4"', 'direct = "4"\nnote = 3')]),
    "text_for_a_length": (
        "wrong-kind",
        SOUND,
        [('direct = "4"', 'direct = "4"\ncentre_distance_mm = "67"')],
    ),
    "date_for_a_name": ("wrong-kind", SOUND, [('id = "late"', 'id = "late"\nname = 2041-09-01')]),
    "number_for_a_ratio": ("ratio", SOUND, [('id = "late"', 'id = "late"\nratios = { 1 = 3.32 }')]),
    "comma_in_a_ratio": ("ratio", SOUND, [('id = "late"', 'id = "late"\nratios = { 1 = "3,32" }')]),
    "ratio_of_zero": ("ratio", SOUND, [('id = "late"', 'id = "late"\nratios = { 1 = "0.00" }')]),
    "negative_ratio": ("ratio", SOUND, [('id = "late"', 'id = "late"\nratios = { 1 = "-3.32" }')]),
    "ratio_of_input": (
        "ratio",
        SOUND,
        [('id = "late"', 'id = "late"\nratios = { input = "1.50" }')],
    ),
    "commonness_of_zero": ("commonness", SOUND, [('id = "late"', 'id = "late"\ncommonness = 0')]),
    "commonness_as_text": ("commonness", SOUND, [('id = "late"', 'id = "late"\ncommonness = "3"')]),
    "commonness_not_a_number": (
        "commonness",
        SOUND,
        [('id = "late"', 'id = "late"\ncommonness = nan')],
    ),
    "endless_commonness": ("commonness", SOUND, [('id = "late"', 'id = "late"\ncommonness = inf')]),
    "true_commonness": ("commonness", SOUND, [('id = "late"', 'id = "late"\ncommonness = true')]),
    "enormous_commonness": (
        "commonness",
        SOUND,
        [('id = "late"', 'id = "late"\ncommonness = 0xffffffffffffffffffff')],
    ),
    "text_for_marks": (
        "wrong-kind",
        SOUND,
        [('id = "late"', 'id = "late"\nmarks = { laygear = "LG 1" }')],
    ),
    "features_of_an_unquoted_wheel": (
        "wrong-kind",
        SOUND,
        [('id = "late"', 'id = "late"\nfeatures = { 3.driver = { hand = "left" } }')],
    ),
    "true_feature": (
        "wrong-kind",
        SOUND,
        [('id = "late"', 'id = "late"\nfeatures = { laygear = { splines = true } }')],
    ),
    "feature_not_a_number": (
        "wrong-kind",
        SOUND,
        [('id = "late"', 'id = "late"\nfeatures = { laygear = { bore_mm = nan } }')],
    ),
    "number_for_features": (
        "wrong-kind",
        SOUND,
        [('id = "late"', 'id = "late"\nfeatures = { laygear = 3 }')],
    ),
    "one_bracket_for_a_set": (
        "wrong-kind",
        SOUND[: SOUND.rindex("[[set]]")],
        [("[[set]]", "[set]")],
    ),
    "shared_wheel_unquoted": (
        "wrong-kind",
        COMPOUND,
        [('"R2.driven" = "1.driven"', 'R2.driven = "1.driven"')],
    ),
    "piece_of_an_unquoted_wheel": (
        "wrong-kind",
        SLEEVE,
        [('1-gear = ["1.driven"]', '1.gear = ["1.driven"]')],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_code(name):
    """A value that will not do is said once, and nothing else is said because of it."""
    code, text, changes = CASES[name]
    assert [p.code for p in problems_of(spoilt(text, *changes))] == [code]


def test_words(snapshot):
    """Every problem of a value has its place, what was read and what would be right."""
    snapshot("catalog/values", listing(CASES))
