"""Days as a record gives them: lowest and highest temperature, and whatever else is known.

Every daily source, file or service, ends in a DailyRecord; the weather room turns it into hours or into frost statistics.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.sources.hours import short_gaps_filled

__all__ = ["MAX_GAP_DAYS", "DailyRecord", "daily_record"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

MAX_GAP_DAYS = 3
"""Longest run of missing days that `unbroken` bridges."""

LOW_K, HIGH_K = 183.15, 333.15
OPTIONAL_LIMITS = {
    "precipitation_mm": (0.0, 1900.0, "mm"),
    "ghi_mj_m2": (0.0, 45.0, "MJ/m²"),
    "wind_m_s": (0.0, 60.0, "m/s"),
}
"""Allowed daily values.  1825 mm is the one-day rain record (Foc-Foc, 1966; WMO archive); the top of the atmosphere
gets at most 46 MJ/m² a day."""


@dataclass(frozen=True, slots=True, eq=False)
class DailyRecord:
    """Calendar days in a row without holes in the calendar; nan where a value is not known.

    dates           : datetime64[D], shape (n_days,), each one day after the last
    tmin_k, tmax_k  : lowest and highest air temperature of the day [K]
    precipitation_mm: water [mm]      ghi_mj_m2 : global sun [MJ/m2]      wind_m_s : mean at 10 m [m/s]; None where unknown
    missing_days    : days without tmin or tmax             filled_days : days that `unbroken` has bridged
    """

    place: Place
    dates: NDArray[np.datetime64]
    tmin_k: F64
    tmax_k: F64
    precipitation_mm: F64 | None = None
    ghi_mj_m2: F64 | None = None
    wind_m_s: F64 | None = None
    source: str = ""
    licence: str = ""
    fetched: datetime | None = None
    filled_days: int = 0
    notes: tuple[str, ...] = field(default=())

    @property
    def n_days(self) -> int:
        """Length of the record in days."""
        return int(self.dates.shape[0])

    @property
    def missing_days(self) -> int:
        """Days without lowest or highest temperature."""
        return int((np.isnan(self.tmin_k) | np.isnan(self.tmax_k)).sum())

    def known_days(self) -> DailyRecord:
        """Only the days with both temperatures, for statistics by month; the calendar then has holes."""
        known = np.isfinite(self.tmin_k) & np.isfinite(self.tmax_k)

        def part(values: F64 | None) -> F64 | None:
            return None if values is None else values[known]

        return replace(
            self, dates=self.dates[known], tmin_k=self.tmin_k[known], tmax_k=self.tmax_k[known],
            precipitation_mm=part(self.precipitation_mm), ghi_mj_m2=part(self.ghi_mj_m2), wind_m_s=part(self.wind_m_s),
        )  # fmt: skip

    def unbroken(self) -> DailyRecord:
        """The record with gaps of up to MAX_GAP_DAYS bridged and counted; longer gaps in temperature are refused.

        Missing rain counts as none; a sun or wind column with longer gaps is left out, and a note says so.
        """
        tmin_k, low_bridged = self._temperature_filled("tmin_k")
        tmax_k, high_bridged = self._temperature_filled("tmax_k")
        sun, sun_note = self._extra_filled("ghi_mj_m2")
        wind, wind_note = self._extra_filled("wind_m_s")
        return replace(
            self,
            tmin_k=tmin_k,
            tmax_k=tmax_k,
            precipitation_mm=None if self.precipitation_mm is None else np.nan_to_num(self.precipitation_mm),
            ghi_mj_m2=sun,
            wind_m_s=wind,
            filled_days=int((low_bridged | high_bridged).sum()),
            notes=self.notes + sun_note + wind_note,
        )

    def _temperature_filled(self, name: str) -> tuple[F64, NDArray[np.bool_]]:
        """(the column with short gaps bridged, where that was done)."""
        filled, missing, hole = short_gaps_filled(getattr(self, name), MAX_GAP_DAYS)
        if hole is not None:
            raise InputError(
                f"{self.source}: {name[:4]} is missing for more than {MAX_GAP_DAYS} days from {self.dates[hole]}; "
                f"gaps of up to {MAX_GAP_DAYS} days are filled, so start the record after it or end it before"
            )
        return filled, missing

    def _extra_filled(self, name: str) -> tuple[F64 | None, tuple[str, ...]]:
        """(the column with short gaps bridged or None where it has longer ones, a note that says so)."""
        values: F64 | None = getattr(self, name)
        if values is None:
            return None, ()
        filled, _, hole = short_gaps_filled(values, MAX_GAP_DAYS)
        if hole is None:
            return filled, ()
        return None, (f"{name} left out: missing for more than {MAX_GAP_DAYS} days from {self.dates[hole]}",)


def daily_record(
    place: Place, dates: NDArray[np.datetime64], columns: dict[str, F64], lines: I64, file: str, *,
    source: str, licence: str = "", fetched: datetime | None = None, notes: tuple[str, ...] = (),
) -> DailyRecord:  # fmt: skip
    """Checked rows as a DailyRecord: order, range, lowest not above highest; absent days become nan.

    columns : tmin_k and tmax_k, and any of precipitation_mm, ghi_mj_m2, wind_m_s; shape (n_rows,) each
    """
    days = dates.astype("datetime64[D]").astype(np.int64)
    _refuse_disorder(days, dates, lines, file)
    _refuse_impossible(columns, lines, file)
    at = days - days[0]
    n = int(at[-1]) + 1
    laid: dict[str, F64] = {}
    for name, values in columns.items():
        if np.isfinite(values).any() or name in ("tmin_k", "tmax_k"):
            laid[name] = np.full(n, np.nan)
            laid[name][at] = values
    if not np.isfinite(laid["tmin_k"]).any() or not np.isfinite(laid["tmax_k"]).any():
        raise InputError(f"{file}: no day with a lowest and a highest temperature")
    all_days = dates[0].astype("datetime64[D]") + np.arange(n)
    return DailyRecord(
        place, all_days, laid["tmin_k"], laid["tmax_k"],
        laid.get("precipitation_mm"), laid.get("ghi_mj_m2"), laid.get("wind_m_s"),
        source=source, licence=licence, fetched=fetched, notes=notes,
    )  # fmt: skip


def _refuse_disorder(days: I64, dates: NDArray[np.datetime64], lines: I64, file: str) -> None:
    steps = np.diff(days)
    faulty = np.flatnonzero((steps < 1) | (steps > 366 * 20))
    if faulty.size:
        k = int(faulty[0]) + 1
        what = (
            "occurs twice" if steps[k - 1] == 0 else "comes out of order" if steps[k - 1] < 0 else "comes 20 years late"
        )
        raise InputError.at(file, int(lines[k]), f"the day {dates[k]} {what} (the row before is {dates[k - 1]})")


def _refuse_impossible(columns: dict[str, F64], lines: I64, file: str) -> None:
    faults: list[str] = []

    def note(where: NDArray[np.bool_], values: F64, sentence: str) -> None:
        if where.any():
            k = int(np.argmax(where))
            faults.append(str(InputError.at(file, int(lines[k]), sentence.format(f"{values[k]:.4g}"))))

    for name in ("tmin_k", "tmax_k"):
        shown = columns[name] - 273.15
        bad = (shown < LOW_K - 273.15) | (shown > HIGH_K - 273.15)
        note(bad, shown, f"{name[:4]} is {{}} °C: expected -90 to 60; if the table is in °F, say temperature_unit F")
    for name, (low, high, unit) in OPTIONAL_LIMITS.items():
        if name in columns:
            values = columns[name]
            note((values < low) | (values > high), values, f"{name} is {{}} {unit}: expected {low:g} to {high:g}")
    excess = columns["tmin_k"] - columns["tmax_k"]
    note(excess > 0.05, excess, "the day's lowest temperature is {} K above its highest; are the columns swapped?")
    if faults:
        raise InputError.of(faults)
