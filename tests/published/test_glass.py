"""3 mm glass from Snell, Fresnel and Bouguer with all inner reflections and both polarisations.

Source: Duffie & Beckman, Solar Engineering of Thermal Processes, ch. 5 equations; the values were worked out independently from
those equations (refractive index 1.526, extinction 4 and 32 /m, 3 mm).
"""

from __future__ import annotations

import numpy as np
import pytest

from underglass.shelter.model import Sheet
from underglass.shelter.optics import sheet_optics

ANGLES = np.array([0.0, 30.0, 45.0, 60.0, 75.0, 80.0])
THREE_DECIMALS = 0.001


@pytest.mark.parametrize(
    ("extinction", "expected"),
    [(4.0, [0.906, 0.903, 0.889, 0.830, 0.603, 0.446]), (32.0, [0.833, 0.826, 0.808, 0.747, 0.534, 0.387])],
)
def test_transmittance_by_angle(extinction: float, expected: list[float]) -> None:
    through, _ = sheet_optics(Sheet(0.003, 1.526, extinction), ANGLES)
    assert through.mean(axis=0) == pytest.approx(np.array(expected), abs=THREE_DECIMALS)


def test_one_surface_alone_passes_more_at_grazing_light_than_the_whole_pane() -> None:
    """pvlib's first-surface model, normalised, K 4 /m and 3 mm: .998 .988 .945 .773 .633; inner reflections take more the flatter the ray."""
    import pvlib

    angles = ANGLES[1:]
    first_surface = np.asarray(pvlib.iam.physical(angles, n=1.526, K=4.0, L=0.003))
    assert first_surface == pytest.approx([0.998, 0.988, 0.945, 0.773, 0.633], abs=0.002)
    through, _ = sheet_optics(Sheet(0.003, 1.526, 4.0), ANGLES)
    ours = through.mean(axis=0)[1:] / through.mean(axis=0)[0]
    assert (ours <= first_surface + 1e-3).all()
    assert ours[-1] < 0.9 * first_surface[-1]
