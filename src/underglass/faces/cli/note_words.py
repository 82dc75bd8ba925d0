"""What a person types at `underglass note` in figures: temperatures, gaps, amounts, days and times."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TypeVar, cast, get_args
from zoneinfo import ZoneInfo

from underglass.errors import InputError
from underglass.notebook.records import LidSetting
from underglass.units import parse_quantity

__all__ = ["amount_of", "day_of", "hours_of", "lid_of", "temperature_k", "time_of"]

D = TypeVar("D", date, None)


def temperature_k(text: str, units: str) -> float:
    """A temperature in kelvin; a bare number is in the household's units.

    >>> round(temperature_k("28F", "c"), 2), round(temperature_k("−3.5", "c"), 2)
    (270.93, 269.65)
    """
    plain = text.strip().replace("−", "-").replace(",", ".")
    bare = plain[-1:].isdigit()
    return parse_quantity(f"{plain} {units}" if bare else plain, "value_k")


def lid_of(text: str) -> tuple[LidSetting, float | None]:
    """What was done to a lid: a word of ours, or a gap with its unit.

    >>> lid_of("5cm"), lid_of("Shut")
    (('gap', 0.05), ('shut', None))
    """
    word = " ".join(text.lower().replace("-", " ").split())
    if word in get_args(LidSetting) and word != "gap":
        return cast("LidSetting", word), None
    if not word[:1].isdigit():
        raise InputError(
            f"{text!r}: expected {', '.join(w for w in get_args(LidSetting) if w != 'gap')}, or a gap as 5cm or 2in"
        )
    if word[-1].isdigit():
        raise InputError(f"{text!r}: a gap needs its unit, as 5cm or 2in")
    return "gap", parse_quantity(word, "gap_m")


def amount_of(text: str) -> tuple[float | None, float | None]:
    """Mass in kg, or servings: '200g', '7 oz', '3', '3 servings'.

    >>> amount_of("200g"), amount_of("3 servings")
    ((0.2, None), (None, 3.0))
    """
    plain = text.lower().strip()
    for word in ("servings", "serving"):
        plain = plain.removesuffix(word).strip()
    if plain[-1:].isdigit():
        return None, parse_quantity(plain, "servings")
    return parse_quantity(plain, "mass_kg"), None


def day_of(text: str | None, otherwise: D) -> date | D:
    """A day as typed, or another where none was.  Raises InputError for anything that is no day."""
    if text is None:
        return otherwise
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"{text!r} is not a day: write year-month-day, as 2027-03-10") from None
    if not 1950 <= found.year <= 2150:
        raise InputError(f"{text}: expected a year from 1950 to 2150")
    return found


def time_of(text: str | None, zone: ZoneInfo) -> datetime:
    """A time as typed on the household's clock, as UTC; now where none was."""
    now = datetime.now(zone)
    if text is None:
        return now.astimezone(UTC)
    plain = text.strip()
    if len(plain) <= 5:
        plain = f"{now:%Y-%m-%d} {plain.zfill(5)}"
    try:
        found = datetime.fromisoformat(plain)
    except ValueError:
        raise InputError(f'{text!r} is not a time: write "07:30", or "2027-03-10 07:30"') from None
    found = (found if found.tzinfo else found.replace(tzinfo=zone)).astimezone(UTC)
    if found > now + timedelta(days=1):
        raise InputError(f"{text}: this is more than a day from now; what is recorded has happened")
    return found


def hours_of(text: str) -> list[float] | None:
    """Visits of a day: '07:00 17:30' as hours, 'nobody' as none, 'usual' as None."""
    if text.lower() in ("usual", "as usual"):
        return None
    if text.lower() in ("nobody", "none", "nobody home"):
        return []
    return [parse_quantity(part, "time_h") for part in text.replace(",", " ").split()]
