"""The page's icon as PNG, for phones that want it so: python scripts/make_icons.py"""

from __future__ import annotations

from pathlib import Path

from underglass.faces.charts.png import svg_to_png

STATIC = Path(__file__).parent.parent / "src" / "underglass" / "faces" / "web" / "static"

if __name__ == "__main__":
    drawing = (STATIC / "icon.svg").read_text(encoding="utf-8")
    for width in (192, 512):
        (STATIC / f"icon-{width}.png").write_bytes(svg_to_png(drawing, width))
