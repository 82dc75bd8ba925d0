"""From a drawing to a picture, with our own font and nothing from the system, so that the same drawing gives the same bytes."""

from __future__ import annotations

import json
from importlib.resources import as_file, files

__all__ = ["svg_to_png"]


def svg_to_png(svg: str, width_px: int = 1600) -> bytes:
    """The drawing as PNG of about this width, by typst's renderer."""
    import typst

    points = 600.0
    template = (
        "#set page(width: auto, height: auto, margin: 0pt)\n"
        f'#image(bytes(json("drawing.json")), format: "svg", width: {points}pt)\n'
    ).encode()
    with as_file(files("underglass.faces.charts") / "fonts") as fonts:
        picture = typst.compile(  # type: ignore[call-overload]  # a dict of files is documented, its stub is behind
            {"main.typ": template, "drawing.json": json.dumps(svg).encode()},
            format="png",
            ppi=72.0 * width_px / points,
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
        )
    if not isinstance(picture, bytes):
        raise TypeError("typst gave no single picture")
    return picture
