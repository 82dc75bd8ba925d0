"""Small pieces of SVG that every chart is made of, and a palette picture of a table of numbers."""

from __future__ import annotations

import base64
import struct
import zlib
from html import escape

import numpy as np
from numpy.typing import NDArray

__all__ = ["FONT", "document", "line", "palette_png", "rect", "text"]

FONT = "Source Sans 3"
INK = "#1d2430"
QUIET = "#5a6474"
PAPER = "#ffffff"


def text(
    x: float, y: float, words: str, *, size: float = 13.0, anchor: str = "start", bold: bool = False, colour: str = INK
) -> str:
    """Words at a point; anchor start, middle or end."""
    weight = ' font-weight="600"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" fill="{colour}"{weight}>{escape(words)}</text>'


def line(x1: float, y1: float, x2: float, y2: float, *, colour: str = QUIET, width: float = 1.0, dash: str = "") -> str:
    """A straight line."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}"{dashes}/>'


def rect(x: float, y: float, width: float, height: float, colour: str) -> str:
    """A filled rectangle."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{colour}"/>'


def document(width: float, height: float, title: str, description: str, parts: list[str]) -> str:
    """A whole drawing with a title and a description for those who hear it instead of seeing it."""
    mark = f"{zlib.crc32(f'{title}{description}'.encode()):08x}"  # two drawings on one page must not share ids
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" aria-labelledby="t{mark} d{mark}" '
        f'font-family="\'{FONT}\', sans-serif"><title id="t{mark}">{escape(title)}</title><desc id="d{mark}">{escape(description)}</desc>'
        f'<rect width="{width:g}" height="{height:g}" fill="{PAPER}"/>{"".join(parts)}</svg>'
    )


def palette_png(cells: NDArray[np.uint8], palette: NDArray[np.uint8]) -> str:
    """A table of colour numbers (rows, columns) as a data address of a small PNG, one pixel a cell."""
    rows, columns = cells.shape
    raw = b"".join(b"\x00" + row.tobytes() for row in cells)

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)
    data = (
        chunk(b"IHDR", header)
        + chunk(b"PLTE", palette.tobytes())
        + chunk(b"IDAT", zlib.compress(raw, 9))
        + chunk(b"IEND", b"")
    )
    return "data:image/png;base64," + base64.b64encode(b"\x89PNG\r\n\x1a\n" + data).decode()
