"""Sun through sheets: Snell, Fresnel and Bouguer for each pane, then both panes together.

Source of the pane equations: Duffie & Beckman, Solar Engineering of Thermal Processes, ch. 5: reflection at a smooth
surface (eq. 5.1.1-5.1.2), absorption (5.2.2), one slab with all inner reflections, each polarisation by itself
(5.3.1-5.3.3); two covers by the same summing of reflections between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.model import Cover, Sheet

__all__ = ["ANGLES_DEG", "CoverOptics", "cover_optics", "sheet_optics"]

F64 = NDArray[np.float64]

ANGLES_DEG: F64 = np.linspace(0.0, 90.0, 91)
"""Angles of incidence at which cover properties are tabled [deg]."""

DIFFUSING_ANGLE_DEG = 55.0
"""A milky sheet scatters; its transmittance falls with angle only about as for a clear one, capped at this angle's value
(estimate: surface reflection still acts, bulk scattering does not depend on the way in)."""


@dataclass(frozen=True, slots=True, eq=False)
class CoverOptics:
    """A cover's answer to sun, tabled at ANGLES_DEG, each array (91,), frame and dirt left out.

    transmittance, absorptance_outer, absorptance_inner : 0-1; a single sheet has all its absorptance in 'inner'
    diffuse_transmittance, diffuse_absorptance : for light from the whole half-space, 0-1
    """

    transmittance: F64
    absorptance_outer: F64
    absorptance_inner: F64
    diffuse_transmittance: float
    diffuse_absorptance: float


def sheet_optics(sheet: Sheet, angle_deg: F64) -> tuple[F64, F64]:
    """Transmittance and reflectance of one sheet for both polarisations, two arrays of shape (2, n), 0-1.

    angle_deg : of incidence, 0-90

    >>> clear = Sheet(thickness_m=0.003, refractive_index=1.526, extinction_per_m=4.0)
    >>> sheet_optics(clear, np.array([0.0, 60.0]))[0].mean(axis=0).round(3)
    array([0.906, 0.83 ])
    """
    incidence = np.radians(np.clip(angle_deg, 0.0, 89.999))
    cos_in = np.cos(incidence)
    sin_out = np.sin(incidence) / sheet.refractive_index
    cos_out = np.sqrt(1.0 - sin_out**2)
    n = sheet.refractive_index
    reflect = np.stack(
        [
            ((cos_in - n * cos_out) / (cos_in + n * cos_out)) ** 2,
            ((cos_out - n * cos_in) / (cos_out + n * cos_in)) ** 2,
        ]
    )
    pass_once = np.exp(-sheet.extinction_per_m * sheet.thickness_m / cos_out)
    ringing = 1.0 - (reflect * pass_once) ** 2
    transmit = pass_once * (1.0 - reflect) ** 2 / ringing
    back = reflect * (1.0 + pass_once * transmit)
    if sheet.solar_transmittance is not None:
        transmit, back = _scaled(sheet, angle_deg, transmit, back)
    return transmit, back


def _scaled(sheet: Sheet, angle_deg: F64, transmit: F64, back: F64) -> tuple[F64, F64]:
    """Keep the angle's shape, take the level at normal incidence from the measured transmittance."""
    clear = Sheet(sheet.thickness_m, sheet.refractive_index, sheet.extinction_per_m)
    at_normal = float(sheet_optics(clear, np.array([0.0]))[0].mean())
    assert sheet.solar_transmittance is not None  # the caller looked; this is for the type checker
    transmit = transmit * (sheet.solar_transmittance / at_normal)
    return transmit, np.minimum(back, 1.0 - transmit)


def _sheet(sheet: Sheet) -> tuple[F64, F64]:
    """A sheet at all tabled angles; a milky one keeps its transmittance up to DIFFUSING_ANGLE_DEG and reflects the less."""
    through, back = sheet_optics(sheet, ANGLES_DEG)
    if sheet.diffusing:
        held = np.array([np.interp(DIFFUSING_ANGLE_DEG, ANGLES_DEG, row) for row in through])
        steep = held[:, None] * np.clip((90.0 - ANGLES_DEG) / 10.0, 0.0, 1.0)
        through = np.where(ANGLES_DEG > DIFFUSING_ANGLE_DEG, steep, through)
        back = np.minimum(back, 1.0 - through)
    return through, back


def _hemispherical(values: F64) -> float:
    """Mean over the half-space of isotropic light: 2 ∫ f(θ) sin θ cos θ dθ."""
    theta = np.radians(ANGLES_DEG)
    weight = np.sin(theta) * np.cos(theta)
    return float(np.sum(values * weight) / np.sum(weight))


def cover_optics(cover: Cover) -> CoverOptics:
    """Tables for one or two sheets; light between two sheets bounces until it is through, out or absorbed."""
    first_t, first_r = _sheet(cover.sheets[0])
    first_a = np.clip(1.0 - first_t - first_r, 0.0, 1.0)
    if len(cover.sheets) == 1:
        through, outer, inner = first_t, np.zeros_like(first_a), first_a
    else:
        second_t, second_r = _sheet(cover.sheets[1])
        second_a = np.clip(1.0 - second_t - second_r, 0.0, 1.0)
        between = 1.0 / (1.0 - first_r * second_r)
        through = first_t * second_t * between
        inner = first_t * second_a * between
        outer = first_a * (1.0 + first_t * second_r * between)
    tau, a_outer, a_inner = (x.mean(axis=0) for x in (through, outer, inner))
    return CoverOptics(tau, a_outer, a_inner, _hemispherical(tau), _hemispherical(a_outer + a_inner))
