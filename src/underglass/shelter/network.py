"""The small linear system of a step: air, radiation and vapour inside, each surface eliminated first.

A *zone* is the space that surfaces trade with: its air [K], its radiation field (a star node) [K] and its vapour pressure [Pa], as a
system of 3 x 3.  The plants' zone is added to the shelter's, or lies under a fleece and is folded into it through the cloth.  The
systems are plain numbers, not arrays, so that the compiled loop keeps them in registers.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from underglass.compiled import njit

__all__ = ["Cloth", "Under", "Zone", "add_surface", "fold", "joined", "opening_share", "response", "solve", "tied"]


class Zone(NamedTuple):
    """Rows air, radiation, vapour: the matrix row by row, then the right side."""

    aa: float
    ar: float
    av: float
    ra: float
    rr: float
    rv: float
    va: float
    vr: float
    vv: float
    a: float
    r: float
    v: float


class Cloth(NamedTuple):
    """What joins the zone above a fleece to the one under it: conductances times -1, rows above, columns under."""

    aa: float
    ar: float
    ra: float
    rr: float
    vv: float


class Under(NamedTuple):
    """The zone under a fleece once it is folded away: its own air, radiation and vapour, by those above."""

    a: float
    aa: float
    ar: float
    av: float
    r: float
    ra: float
    rr: float
    rv: float
    v: float
    va: float
    vr: float
    vv: float


@njit(cache=True, error_model="numpy", forceinline=True)
def joined(one, other):
    """Two zones as one space."""
    return Zone(
        one.aa + other.aa, one.ar + other.ar, one.av + other.av, one.ra + other.ra, one.rr + other.rr, one.rv + other.rv,
        one.va + other.va, one.vr + other.vr, one.vv + other.vv, one.a + other.a, one.r + other.r, one.v + other.v,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", forceinline=True)
def tied(z, air, air_w, ray, ray_w, vap, vap_w):
    """A zone with conductances to what is known already, and the same times its temperature or pressure."""
    return Zone(
        z.aa + air, z.ar, z.av, z.ra, z.rr + ray, z.rv, z.va, z.vr, z.vv + vap, z.a + air_w, z.r + ray_w, z.v + vap_w,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", forceinline=True)
def add_surface(z, air, ray, vap, rest, source, sat0, slope, temp0):
    """Eliminate one surface into a zone; returns the zone and (D, K) for later.

    Its balance: air·(Ta-T) + ray·(S-T) + vap·(e - sat0 - slope·(T-temp0)) + source - rest·T = 0
    """
    bent = vap * slope
    d = air + ray + bent + rest
    k = source + bent * temp0 - vap * sat0
    inverse = 1.0 / d
    air_d, ray_d, vap_d, k_d = air * inverse, ray * inverse, vap * inverse, k * inverse
    zone = Zone(
        z.aa + air - air * air_d, z.ar - air * ray_d, z.av - air * vap_d,
        z.ra - ray * air_d, z.rr + ray - ray * ray_d, z.rv - ray * vap_d,
        z.va - bent * air_d, z.vr - bent * ray_d, z.vv + vap - bent * vap_d,
        z.a + air * k_d, z.r + ray * k_d, z.v + vap * sat0 - bent * temp0 + bent * k_d,
    )  # fmt: skip
    return zone, d, k


@njit(cache=True, error_model="numpy", forceinline=True)
def solve(z):
    """Air, radiation and vapour of a zone, by Cramer's rule: one division, where elimination waits for three (rows are dominated by their diagonal)."""
    c_a, c_r, c_v = z.rr * z.vv - z.rv * z.vr, z.rv * z.va - z.ra * z.vv, z.ra * z.vr - z.rr * z.va
    inverse = 1.0 / (z.aa * c_a + z.ar * c_r + z.av * c_v)
    air = z.a * c_a + z.r * (z.av * z.vr - z.ar * z.vv) + z.v * (z.ar * z.rv - z.av * z.rr)
    star = z.a * c_r + z.r * (z.aa * z.vv - z.av * z.va) + z.v * (z.av * z.ra - z.aa * z.rv)
    vapour = z.a * c_v + z.r * (z.ar * z.va - z.aa * z.vr) + z.v * (z.aa * z.rr - z.ar * z.ra)
    return air * inverse, star * inverse, vapour * inverse


@njit(cache=True, error_model="numpy", forceinline=True)
def response(z):
    """How far the air rises for each watt put into it.  [K/W]"""
    minor = z.rr * z.vv - z.rv * z.vr
    return minor / (z.aa * minor - z.ar * (z.ra * z.vv - z.rv * z.va) + z.av * (z.ra * z.vr - z.rr * z.va))


@njit(cache=True, error_model="numpy", forceinline=True)
def fold(top, low, cloth):
    """Solve the zone under a fleece for those above and put it into the zone above.  Returns that zone and `Under`."""
    c_aa, c_ar, c_av = (
        low.rr * low.vv - low.rv * low.vr,
        low.av * low.vr - low.ar * low.vv,
        low.ar * low.rv - low.av * low.rr,
    )
    c_ra, c_rr, c_rv = (
        low.rv * low.va - low.ra * low.vv,
        low.aa * low.vv - low.av * low.va,
        low.av * low.ra - low.aa * low.rv,
    )
    c_va, c_vr, c_vv = (
        low.ra * low.vr - low.rr * low.va,
        low.ar * low.va - low.aa * low.vr,
        low.aa * low.rr - low.ar * low.ra,
    )
    inverse = 1.0 / (low.aa * c_aa + low.ar * c_ra + low.av * c_va)
    u = Under(
        (c_aa * low.a + c_ar * low.r + c_av * low.v) * inverse,
        -(c_aa * cloth.aa + c_ar * cloth.ar) * inverse, -(c_aa * cloth.ra + c_ar * cloth.rr) * inverse, -c_av * cloth.vv * inverse,
        (c_ra * low.a + c_rr * low.r + c_rv * low.v) * inverse,
        -(c_ra * cloth.aa + c_rr * cloth.ar) * inverse, -(c_ra * cloth.ra + c_rr * cloth.rr) * inverse, -c_rv * cloth.vv * inverse,
        (c_va * low.a + c_vr * low.r + c_vv * low.v) * inverse,
        -(c_va * cloth.aa + c_vr * cloth.ar) * inverse, -(c_va * cloth.ra + c_vr * cloth.rr) * inverse, -c_vv * cloth.vv * inverse,
    )  # fmt: skip
    zone = Zone(
        top.aa + cloth.aa * u.aa + cloth.ar * u.ra, top.ar + cloth.aa * u.ar + cloth.ar * u.rr, top.av + cloth.aa * u.av + cloth.ar * u.rv,
        top.ra + cloth.ra * u.aa + cloth.rr * u.ra, top.rr + cloth.ra * u.ar + cloth.rr * u.rr, top.rv + cloth.ra * u.av + cloth.rr * u.rv,
        top.va + cloth.vv * u.va, top.vr + cloth.vv * u.vr, top.vv + cloth.vv * u.vv,
        top.a - cloth.aa * u.a - cloth.ar * u.r, top.r - cloth.ra * u.a - cloth.rr * u.r, top.v - cloth.vv * u.v,
    )  # fmt: skip
    return zone, u


@njit(cache=True, error_model="numpy", forceinline=True)
def opening_share(perfect, start_k, full_k, shut_k, response_k_w, outside_k, full_g):
    """Share of the full opening [0-1] that an arm takes, or that keeps the air at start_k.

    shut_k : air with the lid shut [K]     response_k_w : K of air per W put into it     full_g : conductance of the full opening [W/K]
    The air that an opening s lets come about is (shut + g s outside) / (1 + g s), g = response × full_g.  An arm's opening is the share
    of its way that this air has gone: one quadratic.
    """
    if shut_k <= outside_k or full_g <= 0.0 or shut_k <= start_k:
        return 0.0
    g = response_k_w * full_g
    if perfect:
        return 1.0 if start_k <= outside_k + 0.05 else min(1.0, (shut_k - start_k) / (g * (start_k - outside_k)))
    way = full_k - start_k
    half = 0.5 * (way - g * (outside_k - start_k))  # g way s^2 + 2 half s - (shut - start) = 0
    return min(1.0, (shut_k - start_k) / (half + np.sqrt(half * half + g * way * (shut_k - start_k))))
