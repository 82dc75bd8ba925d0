"""Shelter tables: presets read back, damage never gives anything but a sentence."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from underglass.errors import InputError
from underglass.shelter.changes import CHANGES, changed
from underglass.shelter.presets import PRESETS, preset, preset_names, preset_toml
from underglass.shelter.schema import shelter_from_table, shelter_to_toml
from underglass.units import parse_quantity


@pytest.mark.parametrize("name", PRESETS)
def test_presets_round_trip(name: str) -> None:
    shelter = preset(name)
    assert shelter.name == name
    assert shelter_from_table(tomllib.loads(shelter_to_toml(shelter))) == shelter
    assert preset_names()[name]


@pytest.mark.parametrize("name", PRESETS)
def test_every_number_of_a_preset_has_a_comment_nearby(name: str) -> None:
    """A source or 'estimate' or 'common practice' stands in each file."""
    text = preset_toml(name)
    assert any(word in text for word in ("estimate", "common practice", "from memory"))


def test_quantities_with_units() -> None:
    assert parse_quantity("36 in", "length_m") == pytest.approx(0.9144)
    assert parse_quantity("70 F", "start_k") == pytest.approx(294.26, abs=0.01)
    assert parse_quantity("2.5 gal", "volume_m3") == pytest.approx(0.009464, rel=0.001)
    assert parse_quantity("07:30", "on_h") == pytest.approx(7.5)
    with pytest.raises(InputError, match="temperature"):
        parse_quantity("5 C", "length_m")


def test_like_changes_only_what_is_named() -> None:
    changed_box = shelter_from_table({"name": "mine", "cover": {"frame_share": 0.3}}, preset("box"))
    assert changed_box.cover is not None
    assert preset("box").cover is not None
    assert changed_box.cover.frame_share == 0.3
    assert changed_box.cover.sheets == preset("box").cover.sheets  # type: ignore[union-attr]
    assert changed_box.shape == preset("box").shape


def test_all_faults_are_listed_at_once() -> None:
    with pytest.raises(InputError) as caught:
        shelter_from_table(
            {"name": "x", "shape": {"kind": "box", "length_m": -1, "widht_m": 2}, "lid": {"working": "never"}}
        )
    said = str(caught.value)
    assert said.count("\n") >= 3
    for words in ("length_m is -1", "widht_m", "working is 'never'", "needs depth_m"):
        assert words in said


@pytest.mark.parametrize("name", list(CHANGES))
def test_changes_apply_to_a_box(name: str) -> None:
    assert changed(preset("box"), name).name == f"box + {name}"


def test_impossible_changes_are_refused() -> None:
    with pytest.raises(InputError, match="no single glazing"):
        changed(preset("box-double"), "double")
    with pytest.raises(InputError, match="open ground"):
        changed(preset("open"), "arm")


plain = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 500),
    st.floats(-1e6, 1e6),
    st.sampled_from(["", "3 ft", "x", "-5 C", "none"]),
)
values = st.one_of(
    plain,
    st.lists(plain, max_size=2),
    st.dictionaries(st.sampled_from(["kind", "length_m", "sheets", "layers", "q"]), plain, max_size=2),
)
keys = st.sampled_from(
    ["name", "shape", "cover", "walls", "lid", "ground", "fleece", "visits", "kind", "gains_w", "nonsense"]
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.dictionaries(keys, values, max_size=4))
def test_damaged_tables_get_sentences(table: dict[str, object]) -> None:
    said = ""
    try:
        shelter_from_table(table, preset("box"))
    except InputError as error:
        said = str(error)
    assert "Error" not in said
    assert said or "nonsense" not in table


def test_a_shelter_may_stand_in_a_terrain_of_its_own() -> None:
    base = preset("box")
    assert base.terrain is None
    assert shelter_from_table({"terrain": "open"}, base).terrain == "open"
    with pytest.raises(InputError, match="terrain is 'windy': expected one of open, garden, sheltered"):
        shelter_from_table({"terrain": "windy"}, base)


def test_a_lid_may_be_given_by_its_angle() -> None:
    """The gap at the edge is the chord: 2 x 0.9 m x sin(15 deg) = 0.466 m."""
    lid = shelter_from_table({"lid": {"gap_m": "30 deg", "full_gap_m": "60°", "swing_m": 0.9}}, preset("box")).lid
    assert lid.gap_m == pytest.approx(0.4659, abs=1e-4)
    assert lid.full_gap_m == pytest.approx(0.9)
    with pytest.raises(InputError, match="0 to 110 degrees"):
        shelter_from_table({"lid": {"gap_m": "190 deg"}}, preset("box"))
