"""The small system of a step against the same equations solved by a general method."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.shelter.network import Cloth, Zone, add_surface, fold, joined, opening_share, response, solve, tied

NOTHING = Zone(*(0.0,) * 12)
links = st.floats(0.1, 200.0)
kelvins = st.floats(250.0, 320.0)
surfaces = st.tuples(links, links, st.floats(0.0, 5.0), links, kelvins, kelvins)


def zone_of(parts: list[tuple[float, ...]]) -> Zone:
    zone = tied(NOTHING, 10.0, 10.0 * 270.0, 1.0, 255.0, 0.2, 80.0)
    for air, ray, vap, rest, k, at in parts:
        zone = add_surface(zone, air, ray, vap, rest, rest * k, 700.0, 45.0, at)[0]
    return zone


def arrays(z: Zone) -> tuple[np.ndarray, np.ndarray]:
    return np.array(z[:9]).reshape(3, 3), np.array(z[9:])


@given(st.lists(surfaces, min_size=1, max_size=4))
def test_eliminated_surfaces_keep_their_balance(parts: list[tuple[float, ...]]) -> None:
    """Each surface's temperature, found back, closes its own equation; the sum of what they give closes the air's."""
    ta, star, e = solve(zone_of(parts))
    given_off = 10.0 * (270.0 - ta)
    for air, ray, vap, rest, k, at in parts:
        _, d, source = add_surface(NOTHING, air, ray, vap, rest, rest * k, 700.0, 45.0, at)
        t = (air * ta + ray * star + vap * e + source) / d
        left = air * (ta - t) + ray * (star - t) + vap * (e - 700.0 - 45.0 * (t - at)) + rest * (k - t)
        assert left == pytest.approx(0.0, abs=1e-6 * d)
        given_off += air * (t - ta)
    assert given_off == pytest.approx(0.0, abs=1e-6 * (10.0 + sum(p[0] for p in parts)))


@given(st.lists(surfaces, min_size=1, max_size=3), st.lists(surfaces, min_size=1, max_size=3))
def test_a_folded_zone_gives_what_six_equations_give(
    above: list[tuple[float, ...]], below: list[tuple[float, ...]]
) -> None:
    top, low, cloth = zone_of(above), zone_of(below), Cloth(-7.0, -2.0, -2.5, -9.0, -0.4)
    upper, b = arrays(joined(top, Zone(9.0, 0, 0, 0, 12.0, 0, 0, 0, 0.4, 0, 0, 0)))
    lower, c = arrays(joined(low, Zone(9.0, 0, 0, 0, 12.0, 0, 0, 0, 0.4, 0, 0, 0)))
    between = np.array([[cloth.aa, cloth.ar, 0.0], [cloth.ra, cloth.rr, 0.0], [0.0, 0.0, cloth.vv]])
    whole = np.linalg.solve(np.block([[upper, between], [between.T, lower]]), np.concatenate([b, c]))
    zone, u = fold(Zone(*upper.ravel(), *b), Zone(*lower.ravel(), *c), cloth)
    x = np.array(solve(zone))
    under = [
        u.a + np.dot((u.aa, u.ar, u.av), x),
        u.r + np.dot((u.ra, u.rr, u.rv), x),
        u.v + np.dot((u.va, u.vr, u.vv), x),
    ]
    assert [*x, *under] == pytest.approx(whole, rel=1e-7)


@given(st.lists(surfaces, min_size=1, max_size=4))
def test_response_is_the_air_for_one_watt_more(parts: list[tuple[float, ...]]) -> None:
    zone = zone_of(parts)
    assert response(zone) == pytest.approx(
        solve(tied(zone, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0))[0] - solve(zone)[0], rel=1e-4
    )


@given(kelvins, st.floats(1e-4, 1.0), st.floats(1.0, 500.0), kelvins, st.floats(0.5, 20.0), kelvins)
def test_an_arm_agrees_with_the_air_it_lets_in(
    shut: float, per_w: float, full_g: float, start: float, way: float, outside: float
) -> None:
    """Shut below its start; else as far up as the air that comes about, and never more than fully."""
    share = opening_share(False, start, start + way, shut, per_w, outside, full_g)
    g = per_w * full_g * share
    air = (shut + g * outside) / (1.0 + g)
    if shut <= outside or shut <= start:
        assert share == 0.0
    else:
        assert share == pytest.approx(min(max((air - start) / way, 0.0), 1.0), abs=1e-6)
