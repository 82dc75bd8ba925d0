"""A drawing written to files, as it is and as a picture."""

from __future__ import annotations

from pathlib import Path

from underglass.errors import InputError

__all__ = ["write_drawing"]


def write_drawing(drawing: str, svg: Path | None, png: Path | None) -> None:
    """Write the drawing where it was asked for.  Raises InputError where a file cannot be written."""
    from underglass.faces.charts.png import svg_to_png

    for path, data in ((svg, drawing.encode()), (png, svg_to_png(drawing) if png else b"")):
        if path:
            try:
                path.write_bytes(data)
            except OSError as error:
                raise InputError(f"{path}: cannot be written ({error.strerror})") from None
