"""A sketch of a shelter, cut across and to scale: its sizes, sheets, covers and water, and the skyline that takes its sun."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from underglass.faces.charts.svg import QUIET, document, line, rect, text
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Shelter

__all__ = ["sketch"]

WIDE, GROUND, TOP, MIDDLE, ROOM = 360.0, 148.0, 26.0, 196.0, 190.0
COVER, SOIL, LEAF, WATER, BLANKET, WALL = "#3f6fa8", "#8a6d4f", "#3d7a4c", "#6aa3cf", "#a0742c", "#6b5a48"

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Outline:
    """Outer line from the left ground point over the top to the right [m], what of it is cover, and how wide and high it is [m]."""

    points: list[Point]
    cover: list[Point]
    width_m: float
    height_m: float


def _outline(shelter: Shelter) -> _Outline:
    shape = shelter.shape
    if isinstance(shape, Hoop):
        half = shape.width_m / 2.0
        arc = [(half - half * math.cos(a), shape.height_m * math.sin(a)) for a in (math.pi * i / 24 for i in range(25))]
        return _Outline(arc, arc, shape.width_m, shape.height_m)
    if isinstance(shape, Drum):
        d, h = shape.diameter_m, shape.height_m
        jug = [(0.0, 0.0), (0.0, 0.72 * h), (0.36 * d, 0.9 * h), (0.36 * d, h), (0.64 * d, h), (0.64 * d, 0.9 * h), (d, 0.72 * h), (d, 0.0)]  # fmt: skip
        return _Outline(jug, jug, d, h)
    if isinstance(shape, Box):
        box = [(0.0, 0.0), (0.0, shape.front_height_m), (shape.depth_m, shape.back_height_m), (shape.depth_m, 0.0)]
        faces = [name for name, glazed in zip(("front", "lid", "back"), _glazed(shape), strict=True) if glazed]
        cover = box if len(faces) == 3 else box[:2] if faces == ["front"] else box[1:3]
        return _Outline(box, cover, shape.depth_m, max(shape.front_height_m, shape.back_height_m))
    return _Outline([(0.0, 0.0), (shape.width_m, 0.0)], [], shape.width_m, 0.25)


def _glazed(shape: Box) -> tuple[bool, bool, bool]:
    windows = {w.wall for w in shape.windows}
    return tuple(name in shape.glazed or name in windows for name in ("front", "lid", "back"))  # type: ignore[return-value]


def sketch(
    shelter: Shelter, title: str, say: Callable[..., str], length: Callable[[float], str], skyline_deg: float = 0.0
) -> str:
    """The drawing as SVG; the sunny side is on the left.  length says metres in the reader's unit."""
    outline = _outline(shelter)
    scale = min(ROOM / outline.width_m, (GROUND - TOP - 8.0) / outline.height_m)
    left = MIDDLE - outline.width_m * scale / 2.0

    def at(point: Point) -> Point:
        return left + point[0] * scale, GROUND - point[1] * scale

    right, top = left + outline.width_m * scale, GROUND - outline.height_m * scale
    parts = [*_skyline(skyline_deg, left), rect(0, GROUND, WIDE, 10, SOIL)]
    if shelter.water is not None and shelter.water.volume_m3 > 0.0:
        parts += _bottles(left, right, top, shelter)
    parts += _plants(left, right, min(0.4 * (GROUND - top), 16.0))
    if shelter.fleece is not None:
        parts.append(
            _path([at((outline.width_m * x, 0.45 * outline.height_m * y)) for x, y in _ARCH], QUIET, 1.5, "2 2")
        )
    parts.append(_path([at(p) for p in outline.points], WALL, 2.5) if outline.cover else "")
    parts += _cover(shelter, [at(p) for p in outline.cover])
    parts += _sizes(shelter, outline, left, right, top, length)
    said = ". ".join([title, *_said(shelter, say, length, skyline_deg)])
    words = _words(shelter, say, skyline_deg)
    return document(WIDE, GROUND + 42 + 18 * len(words), title, said, [p for p in parts if p] + [text(8, GROUND + 54 + 18 * i, w, size=14, colour=QUIET) for i, w in enumerate(words)])  # fmt: skip


_ARCH = [(0.06 + 0.88 * i / 12, math.sin(math.pi * i / 12) ** 0.5) for i in range(13)]


def _path(points: list[Point], colour: str, width: float, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    way = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f'<path d="M{way}" fill="none" stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round"{dashes}/>'


def _cover(shelter: Shelter, points: list[Point]) -> list[str]:
    """One line for each sheet, and a thick one for the night cover, as thick as it insulates."""
    if not points:
        return []
    sheets = len(shelter.cover.sheets) if shelter.cover is not None else 0
    parts = [_path([(x, y + 4.0 * i) for x, y in points], COVER, 2.5) for i in range(sheets)]
    if shelter.night_cover is not None:
        thick = 3.0 + 6.0 * min(shelter.night_cover.resistance_m2k_w, 2.0)
        parts.append(_path([(x, y - 3.0 - thick / 2.0) for x, y in points], BLANKET, thick, "7 3"))
    return parts


def _plants(left: float, right: float, height: float) -> list[str]:
    count = max(2, int((right - left) / 22.0))
    parts = []
    for i in range(count):
        x = left + (right - left) * (i + 0.5) / count
        parts += [
            line(x, GROUND, x, GROUND - height, colour=LEAF, width=2.0),
            f'<ellipse cx="{x - 4:.1f}" cy="{GROUND - height:.1f}" rx="5" ry="2.6" fill="{LEAF}"/>',
            f'<ellipse cx="{x + 4:.1f}" cy="{GROUND - height:.1f}" rx="5" ry="2.6" fill="{LEAF}"/>',
        ]
    return parts


def _bottles(left: float, right: float, top: float, shelter: Shelter) -> list[str]:
    assert shelter.water is not None
    from underglass.shelter.geometry import enclosure

    litres = 1000.0 * shelter.water.volume_m3 / enclosure(shelter.shape).floor_area_m2
    count, tall = min(8, max(1, round(litres / 8.0))), min(0.5 * (GROUND - top), 24.0)
    step = min(12.0, (right - left - 8.0) / count)
    return [rect(right - 6 - step * (i + 1), GROUND - tall, step - 2, tall, WATER) for i in range(count)]


def _skyline(degrees: float, left: float) -> list[str]:
    """Trees in front, as high as their angle seen from the bed."""
    if degrees < 1.0:
        return []
    near = min(left - 46.0, 60.0)
    high = min((left - near) * math.tan(math.radians(degrees)) + 6.0, GROUND - TOP)
    tree = f'<path d="M{near - 22:.1f} {GROUND}L{near:.1f} {GROUND - high:.1f}L{near + 22:.1f} {GROUND}Z" fill="{LEAF}" opacity="0.55"/>'
    return [tree, line(left + 4, GROUND - 4, near, GROUND - high, dash="3 3")]


def _sizes(
    shelter: Shelter, outline: _Outline, left: float, right: float, top: float, length: Callable[[float], str]
) -> list[str]:
    under = GROUND + 18.0
    parts = [
        line(left, under, right, under), line(left, under - 4, left, under + 4), line(right, under - 4, right, under + 4),
        text((left + right) / 2, under + 16, length(outline.width_m), size=14, anchor="middle"),
    ]  # fmt: skip
    shape = shelter.shape
    if isinstance(shape, Box):
        parts += [
            text(left - 6, GROUND - shape.front_height_m * (GROUND - top) / outline.height_m / 2 + 5, length(shape.front_height_m), size=14, anchor="end"),
            text(right + 6, GROUND - shape.back_height_m * (GROUND - top) / outline.height_m / 2 + 5, length(shape.back_height_m), size=14),
        ]  # fmt: skip
    elif not isinstance(shape, OpenGround):
        parts.append(text(right + 6, (GROUND + top) / 2 + 5, length(outline.height_m), size=14))
    return parts


def _words(shelter: Shelter, say: Callable[..., str], skyline_deg: float) -> list[str]:
    """What the lines mean, only of what is there."""
    sheets = len(shelter.cover.sheets) if shelter.cover is not None else 0
    found = {
        "two_sheets": sheets > 1, "night_cover": shelter.night_cover is not None, "fleece": shelter.fleece is not None,
        "water": shelter.water is not None and shelter.water.volume_m3 > 0.0, "skyline": skyline_deg >= 1.0,
    }  # fmt: skip
    words = [say(f"sketch.{key}") for key, there in found.items() if there]
    return [", ".join(words[i : i + 2]) for i in range(0, len(words), 2)]


def _said(shelter: Shelter, say: Callable[..., str], length: Callable[[float], str], skyline_deg: float) -> list[str]:
    from underglass.shelter.sizes import size_keys

    sizes = [f"{say(f'size.{key}')} {length(getattr(shelter.shape, key))}" for key in size_keys(shelter.shape)]
    return [", ".join(sizes), *_words(shelter, say, skyline_deg)]
