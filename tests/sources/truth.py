"""A made-up weather, smooth and known at every moment, from which each service's and each file's format is written."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place
from underglass.sources.draft import HourlyDraft
from underglass.sources.finish import finish
from underglass.sources.hours import HourGrid
from underglass.sun.position import clear_sky_ghi_w_m2, split_ghi, sun_at
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]

PLACE = Place(44.3, -72.6, 250.0, "America/New_York", "Hillside")
SAMPLES = 12  # within an hour


@dataclass(frozen=True)
class Truth:
    """Weather of `n_hours` hours from `start` UTC on."""

    start: np.datetime64
    n_hours: int
    place: Place = PLACE
    cloudy: bool = True

    def air_c(self, hour: F64) -> F64:
        """Air temperature `hour` hours after the start: season, day (warmest 15 h local), weather of several days."""
        t = self._since_new_year(hour)
        local = t - 5.0
        season = 7.0 - 14.0 * np.cos(2 * np.pi * (t / 24.0 - 20.0) / 365.25)
        return season - 5.0 * np.cos(2 * np.pi * (local - 3.0) / 24.0) + 3.0 * np.sin(2 * np.pi * t / (24 * 5.3))

    def dew_c(self, hour: F64) -> F64:
        t = self._since_new_year(hour)
        return (
            self.air_c(hour)
            - 5.5
            - 2.5 * np.sin(2 * np.pi * t / (24 * 3.1))
            + 2.0 * np.cos(2 * np.pi * (t - 8.0) / 24.0)
        )

    def wind_m_s(self, hour: F64) -> F64:
        return 3.0 + 1.5 * np.sin(2 * np.pi * self._since_new_year(hour) / 33.0)

    def cloud(self, hour: F64) -> F64:
        if not self.cloudy:
            return np.zeros_like(hour)
        return 0.5 + 0.45 * np.sin(2 * np.pi * self._since_new_year(hour) / 61.0)

    def rain_mm(self) -> F64:
        """Rain of each hour: a shower every second day."""
        k = np.arange(self.n_hours) + self._since_new_year(np.array([0.0]))[0]
        return np.where(k % 48 < 6, 0.6, 0.0)

    def sun_at(self, offset_h: float) -> tuple[F64, F64, F64]:
        """(global, beam, diffuse) at the moments `offset_h` after each hour's beginning."""
        moments = self.start.astype("datetime64[m]") + 60 * np.arange(self.n_hours) + round(60 * offset_h)
        return sun_at_moments(self.place, moments, self.cloud(np.arange(self.n_hours) + offset_h))

    def _since_new_year(self, hour: F64) -> F64:
        return hour + float((self.start - self.start.astype("datetime64[Y]")) / np.timedelta64(1, "h"))

    def mean(self, what: str) -> F64:
        """Hourly means of one of the functions above."""
        fine = (np.arange(self.n_hours * SAMPLES) + 0.5) / SAMPLES
        return np.asarray(getattr(self, what)(fine).reshape(-1, SAMPLES).mean(axis=1))

    def at(self, what: str, extra: int = 1) -> F64:
        """Values at the beginning of each hour, and at the end of the last."""
        return np.asarray(getattr(self, what)(np.arange(self.n_hours + extra, dtype=np.float64)))

    def outside(self) -> OutsideWeather:
        """The hours as the package should have them from a perfect source."""
        columns = {
            "air_temp_k": self.mean("air_c") + 273.15,
            "dew_point_k": self.mean("dew_c") + 273.15,
            "wind_m_s": self.mean("wind_m_s"),
            "cloud_frac": self.mean("cloud"),
            "precipitation_mm": self.rain_mm(),
        }
        grid = HourGrid(self.start, columns, np.arange(self.n_hours))
        return finish(HourlyDraft(self.place, grid, "truth", "hourly record", "truth"))


def rh_percent(air_c: F64, dew_c: F64) -> F64:
    """Relative humidity over water, Tetens."""

    def pressure(t: F64) -> F64:
        return np.asarray(np.exp(17.27 * t / (t + 237.3)))

    return 100.0 * pressure(dew_c) / pressure(air_c)


def sun_at_moments(place: Place, moments: NDArray[np.datetime64], cloud: F64) -> tuple[F64, F64, F64]:
    """(global, beam, diffuse) at moments under a given cloud cover, by the same rules as `sunlight` uses for hours."""
    zenith, _ = sun_at(place, moments)
    day = moments.astype("datetime64[D]")
    day_of_year = (day - day.astype("datetime64[Y]")).astype(np.float64) + 1.0
    ghi = clear_sky_ghi_w_m2(place, zenith) * (1.0 - 0.75 * cloud**3.4)
    dni, dhi = split_ghi(ghi, zenith, day_of_year)
    return ghi, dni, dhi
