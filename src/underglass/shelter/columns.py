"""Conduction through a column of layers, implicit in time, with freezing kept in enthalpy.

A column is eliminated from the bottom up, so that its whole answer to the skin above it is two numbers; when the skin is
known, the layers follow from the top down.  The same code serves soil, walls and roofs.
"""

from __future__ import annotations

from underglass.compiled import njit
from underglass.shelter.films import FREEZE_K

__all__ = [
    "MUSHY_DK",
    "couple",
    "factor",
    "heat_per_k",
    "holds",
    "settle",
    "settle_freezing",
    "soil_heat",
    "soil_temp",
    "sweep",
]

MUSHY_DK = 0.8
"""Width of the freezing range of soil water below 0 degC [K] (estimate, see soil.py)."""


@njit(cache=True, error_model="numpy", forceinline=True)
def soil_heat(temp_k: float, thawed: float, frozen: float, latent: float) -> float:
    """Heat held per volume above 0 degC thawed, with ice forming evenly over the freezing range.  [J/m3]"""
    t = temp_k - FREEZE_K
    if t >= 0.0:
        return thawed * t
    if t >= -MUSHY_DK:
        return (latent / MUSHY_DK + 0.5 * (thawed + frozen)) * t
    return -latent - 0.5 * (thawed + frozen) * MUSHY_DK + frozen * (t + MUSHY_DK)


@njit(cache=True, error_model="numpy", forceinline=True)
def soil_temp(heat: float, thawed: float, frozen: float, latent: float) -> float:
    """Inverse of `soil_heat`.  [K]"""
    if heat >= 0.0:
        return FREEZE_K + heat / thawed
    edge = -latent - 0.5 * (thawed + frozen) * MUSHY_DK
    if heat >= edge:
        return FREEZE_K + heat / (latent / MUSHY_DK + 0.5 * (thawed + frozen))
    return FREEZE_K - MUSHY_DK + (heat - edge) / frozen


@njit(cache=True, error_model="numpy", forceinline=True)
def couple(temp, thick, thawed, frozen, latent, links):
    """Conductance from each layer's middle up to the next middle (the first: to its own face), by its share of ice.  [W/m2K]

    Returns whether any of them has changed.
    """
    last, changed = 0.0, False
    for i in range(temp.shape[0]):
        k = thawed[i]
        if latent[i] > 0.0 and temp[i] < FREEZE_K:
            k += (frozen[i] - thawed[i]) * min((FREEZE_K - temp[i]) / MUSHY_DK, 1.0)
        half = 0.5 * thick[i] / k
        link = 1.0 / (last + half)
        changed |= link != links[i]
        links[i], last = link, half
    changed |= links[temp.shape[0]] != 1.0 / last
    links[temp.shape[0]] = 1.0 / last
    return changed


@njit(cache=True, error_model="numpy", forceinline=True)
def heat_per_k(temp_k, thawed, frozen, latent):
    """Volumetric heat capacity at a temperature; in the freezing range the latent heat counts in.  [J/m3K]"""
    if temp_k >= FREEZE_K:
        return thawed
    if latent > 0.0 and temp_k > FREEZE_K - MUSHY_DK:
        return latent / MUSHY_DK + 0.5 * (thawed + frozen)
    return frozen


@njit(cache=True, error_model="numpy", forceinline=True)
def factor(temp, thick, links, heat_thawed, heat_frozen, latent, side_g, bottom_g, dt, hold, inverse, lower):
    """What a sweep needs of a column beside its temperatures: it stays as it is while no layer begins to freeze or thaw and no link changes.

    links : from `couple`;  side_g : conductance to what stands beside each layer [W/m2K];  hold : heat per K and step [W/m2K]
    """
    below = bottom_g
    per_s = 1.0 / dt
    for i in range(temp.shape[0] - 1, -1, -1):
        hold[i] = heat_per_k(temp[i], heat_thawed[i], heat_frozen[i], latent[i]) * thick[i] * per_s
        inverse[i] = 1.0 / (below + hold[i] + links[i] + side_g[i])
        lower[i] = links[i] * inverse[i]
        below = links[i] * (1.0 - lower[i])


@njit(cache=True, error_model="numpy", forceinline=True)
def holds(temp, thick, heat_thawed, heat_frozen, latent, dt, hold):
    """Whether a column is still as `factor` found it: no layer has begun or ended freezing or thawing."""
    same, per_s = True, 1.0 / dt
    for i in range(temp.shape[0]):
        same &= hold[i] == heat_per_k(temp[i], heat_thawed[i], heat_frozen[i], latent[i]) * thick[i] * per_s
    return same


@njit(cache=True, error_model="numpy", forceinline=True)
def sweep(temp, side_w, bottom_w, hold, inverse, upper, lower):
    """Eliminate a factored column from the bottom up: layer i becomes upper[i] + lower[i] × (layer above, or skin).

    side_w : conductance × temperature of what stands beside each layer;  bottom_w : the same below [W/m2]
    """
    right = bottom_w
    for i in range(temp.shape[0] - 1, -1, -1):
        right += hold[i] * temp[i] + side_w[i]
        upper[i] = right * inverse[i]
        right *= lower[i]


@njit(cache=True, error_model="numpy", forceinline=True)
def settle(temp, hold, upper, lower, skin_k, side_g, side_k):
    """New temperatures of a column that does not freeze, under its skin.

    Returns heat gained, heat that came from what stands beside it [W/m2], and the lowest layer as swept [K].
    """
    above, gained, sideways = skin_k, 0.0, 0.0
    for i in range(temp.shape[0]):
        above = upper[i] + lower[i] * above
        sideways += side_g[i] * (side_k[i] - above)
        gained += hold[i] * (above - temp[i])
        temp[i] = above
    return gained, sideways, above


@njit(cache=True, error_model="numpy", forceinline=True)
def settle_freezing(temp, thick, heat_thawed, heat_frozen, latent, hold, upper, lower, skin_k, side_g, side_k, dt):
    """As `settle`; what crosses freezing goes through enthalpy."""
    above, gained, sideways = skin_k, 0.0, 0.0
    for i in range(temp.shape[0]):
        above = upper[i] + lower[i] * above
        sideways += side_g[i] * (side_k[i] - above)
        old = temp[i]
        watts = hold[i] * (above - old)
        if latent[i] > 0.0 and (old < FREEZE_K or above < FREEZE_K):
            heat = soil_heat(old, heat_thawed[i], heat_frozen[i], latent[i]) + watts * dt / thick[i]
            temp[i] = soil_temp(heat, heat_thawed[i], heat_frozen[i], latent[i])
        else:
            temp[i] = above
        gained += watts
    return gained, sideways, above
