"""The sun of a draft: beam and diffuse from whatever the source gives, and a check that it shines by day only.

Three ways, best first: beam and diffuse as given (or one of them and the global sun); the global sun, split; cloud cover, through
the clear sky.  Sun in the dark is the surest sign that hours are labelled at the wrong end or on the wrong clock.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.sources.draft import HourlyDraft
from underglass.sun.position import clear_sky_ghi_w_m2, split_ghi, sun_position
from underglass.weather.sky import cloud_from_clearness

__all__ = ["Sunlight", "cloud_seen", "sunlight"]

F64 = NDArray[np.float64]

DARK_SHARE = 0.01
"""More than this share of all sun falling in hours that are wholly dark means a wrong clock."""

CLOSURE_SHARE = 0.25
SHIFTED_SHARE, FITTING_SHARE = 0.05, 0.02
"""Real files close within 0.2-1 % where sun was measured or modelled by the hour, within 13 % where a reanalysis was resampled; moved by
an hour they miss by 7-26 % (eight typical years looked at)."""
OVER_SHARE = 0.02
"""More than this share of bright hours with more diffuse sun than any sky gives means that the columns are not what they are called (typical years
looked at have none)."""
LEAST_COS = 0.05
HIGHEST_ZENITH_DEG = 80.0
"""Lower than this the sun says little about cloud."""
UNKNOWN_CLOUD = 0.5
"""For a stretch without any sun, when nothing says how cloudy it is (estimate)."""
CLOUD_A, CLOUD_B = 0.75, 3.4
"""Kasten and Czeplak (1980), Solar Energy 24: global sun = clear sky x (1 - 0.75 N^3.4)."""


@dataclass(frozen=True, slots=True, eq=False)
class Sunlight:
    """Beam and diffuse sun with the sun's place in the middle of each hour, and the clear sky's global sun."""

    dni_w_m2: F64
    dhi_w_m2: F64
    zenith_deg: F64
    azimuth_deg: F64
    clear_ghi_w_m2: F64
    notes: tuple[str, ...] = ()


def sunlight(draft: HourlyDraft, columns: dict[str, F64]) -> Sunlight:
    """Beam and diffuse of each hour from the draft's columns, whole and never negative.

    columns : gap-free dni_w_m2, dhi_w_m2, ghi_w_m2, cloud_frac as far as there are
    """
    n = draft.grid.lines.shape[0]
    zenith, azimuth = sun_position(draft.place, draft.grid.start, n)
    clear = clear_sky_ghi_w_m2(draft.place, zenith)
    cos_zenith = np.clip(np.cos(np.radians(zenith)), 0.0, None)
    day = (draft.grid.start + np.arange(n)).astype("datetime64[D]")
    day_of_year = (day - day.astype("datetime64[Y]")).astype(np.float64) + 1.0
    dni, dhi, ghi = (columns.get(name) for name in ("dni_w_m2", "dhi_w_m2", "ghi_w_m2"))
    note = ""
    if dni is not None and dhi is not None:
        _refuse_open_sum(draft, dni, dhi, ghi, cos_zenith)
        _refuse_beam_as_diffuse(draft, dhi, cos_zenith)
    elif dni is not None and ghi is not None:
        dhi = np.clip(ghi - dni * cos_zenith, 0.0, None)
        note = "diffuse sun from global minus direct"
    elif dhi is not None and ghi is not None:
        dni = np.clip(ghi - dhi, 0.0, None) / np.maximum(cos_zenith, LEAST_COS)
        dni = np.minimum(dni, 1361.0 * (cos_zenith > 0.0))
        note = "direct sun from global minus diffuse"
    else:
        if ghi is None:
            ghi = clear * (1.0 - CLOUD_A * np.clip(columns["cloud_frac"], 0.0, 1.0) ** CLOUD_B)
            note = "sun from cloud cover (clear sky x (1 - 0.75 N^3.4)), split into direct and diffuse"
        else:
            note = "global sun split into direct and diffuse"
        _refuse_sun_in_the_dark(draft, ghi, ghi, zenith)
        dni, dhi = split_ghi(np.clip(ghi, 0.0, None), zenith, day_of_year)
    _refuse_sun_in_the_dark(draft, dhi + dni * cos_zenith, dni, zenith)
    lit = ~_dark(zenith)
    dni, dhi = np.clip(dni, 0.0, None) * lit, np.clip(dhi, 0.0, None) * lit
    return Sunlight(dni, dhi, zenith, azimuth, clear, (note,) if note else ())


def _dark(zenith_deg: F64) -> NDArray[np.bool_]:
    """Hours in which the sun is down from beginning to end (its place at both ends lies between the middles)."""
    before = np.concatenate((zenith_deg[:1], zenith_deg[:-1]))
    after = np.concatenate((zenith_deg[1:], zenith_deg[-1:]))
    highest = np.minimum(zenith_deg, 0.5 * (zenith_deg + np.minimum(before, after)))
    ends = np.arange(zenith_deg.shape[0])
    edge = (ends == 0) | (ends == zenith_deg.shape[0] - 1)
    return np.asarray(highest > np.where(edge, 98.5, 91.0))


def _refuse_sun_in_the_dark(draft: HourlyDraft, horizontal: F64, beam: F64, zenith_deg: F64) -> None:
    """A file whose sun shines at night has its hours on a wrong clock."""
    dark = _dark(zenith_deg)
    light = np.clip(horizontal, 0.0, None) + np.clip(beam, 0.0, None) * dark
    total, astray = float(light.sum()), float(light[dark].sum())
    if not dark.any() or total <= 0.0 or astray <= DARK_SHARE * total:
        return
    worst = int(np.argmax(np.where(dark, light, 0.0)))
    sentence = (
        f"the sun shines with {light[worst]:.0f} W/m² while it is below the horizon at {draft.place.latitude_deg:g}, "
        f"{draft.place.longitude_deg:g}: check the time zone, longitude, and whether times name the start or the end of the hour"
    )
    raise draft.fault(worst, sentence)


def _refuse_open_sum(draft: HourlyDraft, dni: F64, dhi: F64, ghi: F64 | None, cos_zenith: F64) -> None:
    """Beam on the flat plus diffuse must be the global sun; where it is far from it, columns or hours are mixed up."""
    if ghi is None or draft.from_service:
        return
    total = float(ghi[ghi > 0.0].sum())
    if total <= 0.0:
        return
    off = np.abs(dni * cos_zenith + dhi - ghi)
    share = float(off.sum()) / total
    names = [draft.named(name, what) for name, what in
             (("dni_w_m2", "direct"), ("dhi_w_m2", "diffuse"), ("ghi_w_m2", "global"))]  # fmt: skip
    worst = int(np.argmax(off))
    sentence = f"{names[0]} x cos(zenith) + {names[1]} differs from {names[2]} by {100 * share:.0f} %, most here ({off[worst]:.0f} W/m²)"
    for shift, end in ((-1, "start"), (1, "end")):
        moved = float(np.abs(dni * np.roll(cos_zenith, shift) + dhi - ghi).sum()) / total
        if share > SHIFTED_SHARE and moved < FITTING_SHARE:
            raise draft.fault(
                worst, f"{sentence}, but adds up an hour off: do the times name the other end ({end}) of the hour?"
            )
    if share > CLOSURE_SHARE:
        raise draft.fault(worst, f"{sentence}: are columns swapped, or do the times stand on another clock?")


def _refuse_beam_as_diffuse(draft: HourlyDraft, dhi: F64, cos_zenith: F64) -> None:
    """Diffuse sun over the 'extremely rare' limit of the BSRN, 0.75 S cos^1.2 + 30 W/m2 (Long & Dutton 2002), hour after hour is beam."""
    bright = cos_zenith > np.cos(np.radians(HIGHEST_ZENITH_DEG))
    over = np.where(bright, dhi - (0.75 * 1361.0 * cos_zenith**1.2 + 30.0), 0.0)
    if draft.from_service or (over > 0.0).sum() <= OVER_SHARE * bright.sum():
        return
    worst = int(np.argmax(over))
    names = draft.named("dhi_w_m2", "diffuse"), draft.named("dni_w_m2", "direct")
    raise draft.fault(
        worst,
        f"{names[0]} is {dhi[worst]:.0f} W/m², more than any sky gives at this height of the sun: are {names[0]} and {names[1]} swapped?",
    )


def cloud_seen(given: F64 | None, sun: Sunlight) -> F64:
    """Cloud cover 0-1 of each hour: as given, else from how much of the clear sky's sun arrives, carried through the night."""
    if given is not None and np.isfinite(given).all():
        return np.clip(given, 0.0, 1.0)
    cos_zenith = np.clip(np.cos(np.radians(sun.zenith_deg)), 0.0, None)
    high = np.flatnonzero(cos_zenith > np.cos(np.radians(HIGHEST_ZENITH_DEG)))
    if not high.size:
        return np.full(cos_zenith.shape[0], UNKNOWN_CLOUD)
    clearness = (sun.dhi_w_m2 + sun.dni_w_m2 * cos_zenith)[high] / sun.clear_ghi_w_m2[high]
    hours = np.arange(cos_zenith.shape[0], dtype=np.float64)
    return np.interp(hours, high.astype(np.float64), cloud_from_clearness(clearness))
