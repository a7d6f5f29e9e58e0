"""The saw-tooth chart as a picture: what is in it, and that nothing lies on anything else."""

import pytest

ALONE = (
    *("3.65", "2.25", "1.44", "1", "--axle", "4.56", "--tyre", "165/80R15"),
    *("--band", "2200-4800", "--speed", "90"),
)
BESIDE = (
    *("--demo", "--set", "alder-4/wide", "--set", "alder-4/close", "--set", "rowan-5/standard"),
    *("--axle", "9/41", "--tyre", "5.60-15", "--rpm", "4500", "--units", "mph"),
)
#: Gears so near each other that their names would lie on one another in one row.
NEAR = ("1.10", "1.09", "1.08", "1.07", "1.06", "1.05", *ALONE[4:])


@pytest.mark.parametrize("words", [ALONE, BESIDE, NEAR], ids=["alone", "beside", "near"])
def test_chart(words, tmp_path, cogtally, monkeypatch):
    """Every gear and car is in it, no label overlaps, nothing is outside the page."""
    from cogtally.cli import road
    from cogtally.show.drawing import Drawing, Group, leaves
    from show.drawing_checks import outside_page, overlapping_labels

    drawn: list[Drawing] = []
    monkeypatch.setattr(road, "write_picture", lambda one, *_, **__: drawn.append(one))
    ran = cogtally("road", *words, "--chart", str(tmp_path / "x.svg"))
    assert ran.code == 0, ran.err
    (drawing,) = drawn
    (page,) = drawing.pages
    assert outside_page(drawing) == []
    assert overlapping_labels(drawing) == []
    names = [item.name for item in page.items if isinstance(item, Group)]
    cars = words.count("--set") or 1
    assert sum(name.startswith("car") for name in names) == cars
    assert sum(name.startswith("gear ") for name in names) >= 4 * cars
    texts = [getattr(leaf, "text", "") for leaf in leaves(page.items)]
    assert any("rpm" in text for text in texts)
    assert any("km/h" in text or "mph" in text for text in texts)
    assert "within 3 %" in " ".join(texts)
    if words is ALONE:
        assert "band 2200 to 4800 rpm" in texts
        # 4800 × 2.25 / 3.65, and so on up.
        assert {"2959", "3072", "3333"} <= set(texts)
        assert any(text.startswith("90 km/h: 4 at ") for text in texts)
    if words is BESIDE:
        assert {"A 1", "B 1", "C 1", "A 4", "B 4", "C 4"} <= set(texts)
