"""What was answered on the first visit before the place: kept until the place is said, so that no answer is asked for twice."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

from underglass.faces.web.household_form import FIELDS, LONGEST, Filled
from underglass.faces.web.whole_file import write_whole

__all__ = ["Draft"]

FILE = "first-answers.json"


class Draft:
    """The answers without a place, in the household's folder."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE

    def keep(self, filled: Filled) -> None:
        """Keep them in place of those before."""
        write_whole(self._path, asdict(filled))

    def kept(self) -> Filled | None:
        """The answers, None where there are none that can be read."""
        try:
            table = json.loads(self._path.read_text(encoding="utf-8"))
            fields = {name: str(table["fields"].get(name, ""))[:LONGEST] for name in FIELDS}
            return Filled(fields, tuple(map(str, table["shelters"])), tuple(map(str, table["crops"])))
        except (OSError, ValueError, LookupError, TypeError, AttributeError):
            return None

    def let_go(self) -> None:
        """They stand in a household now."""
        with suppress(OSError):
            self._path.unlink(missing_ok=True)
