"""The one error family.

    UnderglassError            exit code 1   something went wrong; the message says what and what to do
    ├── InputError             exit code 2   a file, option or value of the user's is wrong
    ├── SourceError            exit code 3   a weather service or its cached reply could not be used
    └── NotebookError          exit code 4   the notebook could not be read or written; nothing in it is lost

A message is one plain sentence (or one per fault): what, where, what was found, what is allowed, what to do next.
Faces show `str(error)` and leave with `error.exit_code`; nobody else prints.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["InputError", "NotebookError", "SourceError", "UnderglassError"]


class UnderglassError(Exception):
    """Base of everything this package raises on purpose."""

    exit_code = 1


class InputError(UnderglassError):
    """Something the user gave is wrong; carries every fault found, not only the first.

    >>> str(InputError.at("shed.toml", 3, "front_height is 30 m: expected 0.05-4 m; did you mean 0.30?"))
    'shed.toml line 3: front_height is 30 m: expected 0.05-4 m; did you mean 0.30?'
    """

    exit_code = 2

    @classmethod
    def at(cls, file: str, line: int | None, fault: str) -> InputError:
        """The fault with its file and (where known) line in front."""
        where = file if line is None else f"{file} line {line}"
        return cls(f"{where}: {fault}")

    @classmethod
    def of(cls, faults: Sequence[str]) -> InputError:
        """Several faults at once, one per line."""
        return cls("\n".join(faults))


class SourceError(UnderglassError):
    """A weather service did not give what was asked, and the cache could not stand in."""

    exit_code = 3


class NotebookError(UnderglassError):
    """The notebook could not be read or written; what was acknowledged before is still in it."""

    exit_code = 4
