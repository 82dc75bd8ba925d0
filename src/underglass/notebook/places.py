"""Where a notebook lives: one folder for a household, with the file, its photos and its backups."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["backup_folder", "notebook_folder", "notebook_path", "photo_folder"]


def notebook_folder() -> Path:
    """The household's folder: UNDERGLASS_HOME if set, else the user's data folder."""
    given = os.environ.get("UNDERGLASS_HOME")
    if given:
        return Path(given)
    import platformdirs

    return platformdirs.user_data_path("underglass")


def notebook_path() -> Path:
    """The household's notebook, whether it is there yet or not."""
    return notebook_folder() / "notebook.sqlite"


def photo_folder(path: Path) -> Path:
    """Where the photos of a notebook are."""
    return path.parent / "photos"


def backup_folder(path: Path) -> Path:
    """Where the backups of a notebook are."""
    return path.parent / "backups"
