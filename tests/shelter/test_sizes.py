"""Other sizes of a shelter."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.errors import InputError
from underglass.shelter.presets import PRESETS, preset
from underglass.shelter.sizes import LIMITS_M, resized, size_keys, sizes_table
from underglass.sources.household_file import household_of_table


@pytest.mark.parametrize("name", PRESETS)
def test_the_same_sizes_leave_the_shelter_as_it_is(name: str) -> None:
    shelter = preset(name)
    assert resized(shelter, {k: getattr(shelter.shape, k) for k in size_keys(shelter.shape)}) == shelter


def test_a_longer_box_has_longer_cracks_and_a_longer_hinge() -> None:
    box = preset("box")
    long = resized(box, {"length_m": 3.6})
    assert long.lid.hinge_length_m == pytest.approx(3.6)
    assert long.lid.full_gap_m == box.lid.full_gap_m
    assert long.airtightness.leak_area_m2 == pytest.approx(box.airtightness.leak_area_m2 * 4.5 / 2.7)


@pytest.mark.parametrize("name", PRESETS)
@settings(max_examples=12)
@given(data=st.data())
def test_a_file_with_the_table_gives_the_resized_shelter(name: str, data: st.DataObject) -> None:
    sizes = {key: data.draw(st.floats(0.3, min(LIMITS_M[key][1], 1.4))) for key in size_keys(preset(name).shape)}
    if "back_height_m" in sizes:
        sizes["back_height_m"] = max(sizes["front_height_m"], sizes["back_height_m"])
    wanted = resized(preset(name), sizes)
    table = {
        "name": "h",
        "place": {"latitude": 44.0, "longitude": -72.0},
        "shelters": [{"like": name, **sizes_table(wanted)}],
    }
    (made,) = household_of_table(table).shelters
    for key, value in sizes.items():
        assert getattr(made.shape, key) == pytest.approx(value, abs=1e-4)
    assert made.airtightness.leak_area_m2 == pytest.approx(wanted.airtightness.leak_area_m2, rel=1e-3, abs=1e-6)
    assert made.clear_height_m == pytest.approx(wanted.clear_height_m, abs=1e-3)


def test_what_cannot_be_is_said_all_at_once() -> None:
    with pytest.raises(InputError) as error:
        resized(preset("box"), {"length_m": 900.0, "width_m": 1.0})
    assert "length_m of box is 900 m" in str(error.value)
    assert "box has no width_m" in str(error.value)
