"""Our colour scale for temperature: dark is cold, light is warm, even steps to the eye, safe for colour-blind readers.

Straight lines in CIELAB between anchors of our own; lightness only rises, so that it also reads in grey.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["SCALE", "hex_of", "lightness", "scale_rgb"]

ANCHORS = np.array(
    [
        [14.0, 18.0, -38.0],
        [34.0, 8.0, -42.0],
        [52.0, -12.0, -20.0],
        [66.0, -14.0, 14.0],
        [80.0, 8.0, 46.0],
        [95.0, 2.0, 22.0],
    ]
)
"""Lightness, a, b from coldest to warmest."""

WHITE_D65 = np.array([0.95047, 1.0, 1.08883])
XYZ_TO_RGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
"""CIE XYZ (D65) to linear sRGB, IEC 61966-2-1."""


def _lab(share: NDArray[np.float64]) -> NDArray[np.float64]:
    at = np.linspace(0.0, 1.0, len(ANCHORS))
    return np.stack([np.interp(share, at, ANCHORS[:, i]) for i in range(3)], axis=-1)


def lightness(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIE lightness of the scale, 0-100, at shares 0 (coldest) to 1 (warmest)."""
    return np.asarray(_lab(share)[..., 0])


def scale_rgb(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Colours of the scale, shape (..., 3), at shares 0 to 1 (clipped)."""
    lab = _lab(np.clip(share, 0.0, 1.0))
    fy = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([fy + lab[..., 1] / 500.0, fy, fy - lab[..., 2] / 200.0], axis=-1)
    xyz = np.where(f > 6.0 / 29.0, f**3, 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0)) * WHITE_D65
    linear = np.clip(xyz @ XYZ_TO_RGB.T, 0.0, 1.0)
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)
    return np.asarray(np.round(255.0 * srgb), dtype=np.uint8)


SCALE: NDArray[np.uint8] = scale_rgb(np.linspace(0.0, 1.0, 256))
"""The scale in 256 steps, (256, 3)."""


def hex_of(share: float) -> str:
    """One colour of the scale as #rrggbb."""
    r, g, b = (int(v) for v in scale_rgb(np.array([share]))[0])
    return f"#{r:02x}{g:02x}{b:02x}"
