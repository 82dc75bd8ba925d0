"""Drawings compared with kept ones, as text.  UNDERGLASS_NEW_PICTURES=1 writes them anew; look at them before you keep them."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import struct
import zlib
from pathlib import Path
from xml.etree import ElementTree

KEPT = Path(__file__).parent / "kept"


def _cells(match: re.Match[str]) -> str:
    """A palette picture as the hash of its cells, as the packed bytes differ from one zlib to the next."""
    raw, at, kinds = base64.b64decode(match[1]), 8, []
    while at < len(raw):
        length, kind = struct.unpack(">I4s", raw[at : at + 8])
        body = raw[at + 8 : at + 8 + length]
        kinds.append(zlib.decompress(body) if kind == b"IDAT" else body)
        at += 12 + length
    return f'href="cells:{hashlib.sha256(b"".join(kinds)).hexdigest()[:16]}"'


def lines_of(svg: str) -> str:
    """A drawing as text that can be read and compared: one element a line."""
    ElementTree.fromstring(svg)  # well formed
    text = re.sub(r'href="data:image/png;base64,([^"]+)"', _cells, svg)
    return re.sub(r">\s*<(?!/)", ">\n<", text) + "\n"


def kept(name: str, svg: str) -> str:
    """The kept drawing of this name, as lines_of gives it; empty where there is none yet."""
    path = KEPT / f"{name}.svg.txt"
    if os.environ.get("UNDERGLASS_NEW_PICTURES"):
        KEPT.mkdir(exist_ok=True)
        path.write_text(lines_of(svg), encoding="utf-8")
    return path.read_text(encoding="utf-8") if path.exists() else ""
