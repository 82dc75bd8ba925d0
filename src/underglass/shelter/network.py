"""The small linear system of a step: air, radiation and vapour inside, each surface eliminated first.

Rows and columns 0-2 are the air [K], the radiation field (a star node) [K] and the vapour pressure [Pa] of the shelter; 3-5 the
same under an inner fleece.
"""

from __future__ import annotations

from numba import njit

__all__ = ["add_surface", "opening_share", "solve"]


@njit(cache=True, error_model="numpy")
def add_surface(m, b, o, air, ray, vap, rest, source, sat0, slope, temp0):
    """Eliminate one surface into the rows o (air), o+1 (radiation), o+2 (vapour) and return (D, K) for later.

    Its balance: air·(Ta-T) + ray·(S-T) + vap·(e - sat0 - slope·(T-temp0)) + source - rest·T = 0
    """
    d = air + ray + vap * slope + rest
    k = source + vap * (slope * temp0 - sat0)
    inverse = 1.0 / d
    air_d, ray_d, vap_d = air * inverse, ray * inverse, vap * inverse
    m[o, o] += air - air * air_d
    m[o, o + 1] -= air * ray_d
    b[o] += k * air_d
    m[o + 1, o] -= ray * air_d
    m[o + 1, o + 1] += ray - ray * ray_d
    b[o + 1] += k * ray_d
    if vap != 0.0:
        bent = vap * slope
        m[o, o + 2] -= air * vap_d
        m[o + 1, o + 2] -= ray * vap_d
        m[o + 2, o] -= bent * air_d
        m[o + 2, o + 1] -= bent * ray_d
        m[o + 2, o + 2] += vap - bent * vap_d
        b[o + 2] += vap * (sat0 - slope * temp0) + bent * inverse * k
    return d, k


@njit(cache=True, error_model="numpy")
def solve(m, b, n, w, x):
    """Gauss elimination without pivots (rows are dominated by their diagonal); m and b stay as they are, w is working room."""
    if n == 3:  # the usual case, written out: no fleece
        f, g = m[1, 0] / m[0, 0], m[2, 0] / m[0, 0]
        m11, m12, b1 = m[1, 1] - f * m[0, 1], m[1, 2] - f * m[0, 2], b[1] - f * b[0]
        m21, m22, b2 = m[2, 1] - g * m[0, 1], m[2, 2] - g * m[0, 2], b[2] - g * b[0]
        h = m21 / m11
        x[2] = (b2 - h * b1) / (m22 - h * m12)
        x[1] = (b1 - m12 * x[2]) / m11
        x[0] = (b[0] - m[0, 1] * x[1] - m[0, 2] * x[2]) / m[0, 0]
        return
    for i in range(n):
        x[i] = b[i]
        for j in range(n):
            w[i, j] = m[i, j]
    for i in range(n - 1):
        inverse = 1.0 / w[i, i]
        for r in range(i + 1, n):
            f = w[r, i] * inverse
            if f != 0.0:
                for c in range(i + 1, n):
                    w[r, c] -= f * w[i, c]
                x[r] -= f * x[i]
    for i in range(n - 1, -1, -1):
        s = x[i]
        for c in range(i + 1, n):
            s -= w[i, c] * x[c]
        x[i] = s / w[i, i]


@njit(cache=True, error_model="numpy")
def opening_share(perfect, start_k, full_k, shut_k, response, outside_k, full_g):
    """Share of the full opening [0-1] that an arm takes, or that keeps the air at start_k.

    shut_k : air with the lid shut [K]     response : K of air per W put into it     full_g : conductance of the full opening [W/K]
    An arm's opening and the air it lets in decide each other: found by halving.
    """
    if shut_k <= outside_k or full_g <= 0.0:
        return 0.0
    if perfect:
        if shut_k <= start_k:
            return 0.0
        if start_k <= outside_k + 0.05:
            return 1.0
        return min(1.0, (shut_k - start_k) / (response * (start_k - outside_k)) / full_g)
    low, high = 0.0, 1.0
    for _ in range(12):
        share = 0.5 * (low + high)
        g = response * share * full_g
        air = (shut_k + g * outside_k) / (1.0 + g)
        if min(max((air - start_k) / (full_k - start_k), 0.0), 1.0) > share:
            low = share
        else:
            high = share
    return 0.5 * (low + high)
