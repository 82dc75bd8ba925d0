"""The made-up weather written out as each service documents its reply and each file format its rows."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.sources.standins import Answer, Asked, StandIn
from tests.sources.truth import Truth, rh_percent
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]
CELL_M = 410.0


def rounded(values: F64, digits: int) -> list[float]:
    return [round(float(value), digits) for value in values]


def stamps(start: np.datetime64, n: int) -> list[str]:
    """ISO times to the minute, without offset."""
    return [str(t) for t in np.datetime_as_string((start + np.arange(n)).astype("datetime64[m]"))]


# --- services -----------------------------------------------------------------------------------------------------


def open_meteo(truth: Truth, seen: OutsideWeather, *, kmh: bool = False, nulls: int = 0) -> dict[str, Any]:
    """Sun and rain of the hour before the stamp, the rest at the stamp; `nulls` hours at the end not there yet."""
    n = truth.n_hours
    before = {
        "shortwave_radiation": seen.dhi_w_m2 + seen.dni_w_m2 * np.clip(np.cos(np.radians(seen.sun_zenith_deg)), 0, 1),
        "direct_normal_irradiance": seen.dni_w_m2, "diffuse_radiation": seen.dhi_w_m2,
        "precipitation": seen.precipitation_mm,
    }  # fmt: skip
    hourly: dict[str, Any] = {"time": stamps(truth.start, n + 1)}
    hourly["temperature_2m"] = rounded(truth.at("air_c"), 2)
    hourly["dew_point_2m"] = rounded(truth.at("dew_c"), 2)
    hourly["wind_speed_10m"] = rounded(truth.at("wind_m_s") * (3.6 if kmh else 1.0), 2)
    hourly["cloud_cover"] = rounded(100 * truth.at("cloud"), 0)
    hourly["snow_depth"] = [0.0] * (n + 1)
    hourly["snowfall"] = [7.0] * (n + 1)  # cm: a trap, never to be read as depth
    hourly["surface_pressure"] = rounded(np.full(n + 1, seen.pressure_pa[0] / 100), 1)
    for name, values in before.items():
        hourly[name] = [None, *rounded(values, 2)]
    for name in hourly:
        if name != "time" and nulls:
            hourly[name][-nulls:] = [None] * nulls
    units = {
        "time": "iso8601", "temperature_2m": "°C", "dew_point_2m": "°C", "wind_speed_10m": "km/h" if kmh else "m/s",
        "cloud_cover": "%", "snow_depth": "m", "snowfall": "cm", "surface_pressure": "hPa", "precipitation": "mm",
        "shortwave_radiation": "W/m²", "direct_normal_irradiance": "W/m²", "diffuse_radiation": "W/m²",
    }  # fmt: skip
    return {
        "latitude": 44.25, "longitude": -72.5, "generationtime_ms": 0.3, "utc_offset_seconds": 0, "timezone": "GMT",
        "timezone_abbreviation": "GMT", "elevation": 251.0, "hourly_units": units, "hourly": hourly,
    }  # fmt: skip


def nasa_hourly(truth: Truth, seen: OutsideWeather, *, cell_m: float | None = None) -> dict[str, Any]:
    """Means of the hour that begins at the stamp; fill -999; longwave."""
    keys = [text[:13].replace("-", "").replace("T", "") for text in stamps(truth.start, truth.n_hours)]
    cos = np.clip(np.cos(np.radians(seen.sun_zenith_deg)), 0, 1)
    values = {
        "T2M": rounded(truth.mean("air_c"), 2), "T2MDEW": rounded(truth.mean("dew_c"), 2),
        "WS10M": rounded(truth.mean("wind_m_s"), 2), "PS": rounded(seen.pressure_pa / 1000, 2),
        "PRECTOTCORR": rounded(seen.precipitation_mm, 2), "ALLSKY_SFC_SW_DWN": rounded(seen.dhi_w_m2 + seen.dni_w_m2 * cos, 2),
        "ALLSKY_SFC_SW_DNI": rounded(seen.dni_w_m2, 2), "ALLSKY_SFC_SW_DIFF": rounded(seen.dhi_w_m2, 2),
        "ALLSKY_SFC_LW_DWN": rounded(seen.longwave_down_w_m2, 2),
    }  # fmt: skip
    units = {
        "T2M": "C", "T2MDEW": "C", "WS10M": "m/s", "PS": "kPa", "PRECTOTCORR": "mm/hour", "ALLSKY_SFC_SW_DWN": "Wh/m^2",
        "ALLSKY_SFC_SW_DNI": "Wh/m^2", "ALLSKY_SFC_SW_DIFF": "Wh/m^2", "ALLSKY_SFC_LW_DWN": "W/m^2",
    }  # fmt: skip
    return power({name: dict(zip(keys, series, strict=True)) for name, series in values.items()}, units,
                 truth.place.elevation_m if cell_m is None else cell_m)  # fmt: skip


def power(values: dict[str, dict[str, float]], units: dict[str, str], cell_m: float = CELL_M) -> dict[str, Any]:
    """NASA POWER's envelope."""
    return {
        "type": "Feature", "geometry": {"type": "Point", "coordinates": [-72.6, 44.3, cell_m]},
        "properties": {"parameter": values},
        "header": {"title": "NASA/POWER Source Native Resolution", "fill_value": -999.0, "time_standard": "UTC"},
        "messages": [], "parameters": {name: {"units": unit, "longname": name} for name, unit in units.items()},
        "times": {"data": 0.9, "process": 0.1},
    }  # fmt: skip


def merged(values: list[Any], start: np.datetime64, every: int = 1) -> list[dict[str, Any]]:
    """NWS intervals: equal neighbours joined; `every` hours at least."""
    out: list[dict[str, Any]] = []
    k = 0
    while k < len(values):
        m = k + every
        while m < len(values) and values[m] == values[k]:
            m += every
        m = min(m, len(values))
        days, hours = divmod(m - k, 24)
        span = "P" + (f"{days}D" if days else "") + (f"T{hours}H" if hours else "")
        out.append({"validTime": f"{start + k}:00:00+00:00/{span}", "value": values[k]})
        k = m
    return out


def nws_gridpoint(truth: Truth, seen: OutsideWeather) -> dict[str, Any]:
    """Means of hours in °C, km/h and percent; rain as totals of six hours; an empty layer and a null."""
    rain = [float(seen.precipitation_mm[k : k + 6].sum().round(3)) for k in range(0, truth.n_hours, 6)]
    rain_layer = []
    for k, total in enumerate(rain):
        length = min(6, truth.n_hours - 6 * k)
        rain_layer.append({"validTime": f"{truth.start + 6 * k}:00:00+00:00/PT{length}H", "value": total})
    cloud: list[Any] = rounded(100 * truth.mean("cloud"), 0)
    air: list[Any] = rounded(truth.mean("air_c"), 1)
    air[30] = None
    layer = {
        "temperature": ("wmoUnit:degC", merged(air, truth.start)),
        "dewpoint": ("wmoUnit:degC", merged(rounded(truth.mean("dew_c"), 1), truth.start)),
        "windSpeed": ("wmoUnit:km_h-1", merged(rounded(3.6 * truth.mean("wind_m_s"), 1), truth.start)),
        "skyCover": ("wmoUnit:percent", merged(cloud, truth.start)),
        "quantitativePrecipitation": ("wmoUnit:mm", rain_layer),
        "heatIndex": ("wmoUnit:degC", []),
    }
    properties: dict[str, Any] = {
        "updateTime": "2001-06-01T00:00:00+00:00",
        "elevation": {"unitCode": "wmoUnit:m", "value": 250},
        **{name: {"uom": uom, "values": values} for name, (uom, values) in layer.items()},
        "snowLevel": {},
    }
    return {"type": "Feature", "properties": properties}


def nws_point() -> dict[str, Any]:
    return {"properties": {"gridId": "BTV", "gridX": 110, "gridY": 52, "timeZone": "America/New_York"}}


def met_norway(truth: Truth, seen: OutsideWeather, hourly: int = 60) -> dict[str, Any]:
    """Moments; hourly first, then every six hours; the last entry has no rain to come."""
    n = truth.n_hours
    marks = [*range(min(hourly, n)), *range(min(hourly, n), n + 1, 6)]
    air, dew, wind, cloud = (truth.at(name) for name in ("air_c", "dew_c", "wind_m_s", "cloud"))
    sea_pa = float(seen.pressure_pa[0] / (1.0 - 2.25577e-5 * truth.place.elevation_m) ** 5.2559)
    series = []
    for at, mark in enumerate(marks):
        details = {
            "air_temperature": round(float(air[mark]), 1), "dew_point_temperature": round(float(dew[mark]), 1),
            "relative_humidity": 70.0, "wind_speed": round(float(wind[mark]), 1),
            "cloud_area_fraction": round(float(100 * cloud[mark]), 1), "air_pressure_at_sea_level": round(sea_pa / 100, 1),
        }  # fmt: skip
        data: dict[str, Any] = {"instant": {"details": details}}
        if at + 1 < len(marks):
            step = marks[at + 1] - mark
            six = float(seen.precipitation_mm[mark : mark + 6].sum().round(2))
            data["next_6_hours"] = {"summary": {"symbol_code": "rain"}, "details": {"precipitation_amount": six}}
            if step == 1:
                data["next_1_hours"] = {
                    "summary": {},
                    "details": {"precipitation_amount": float(seen.precipitation_mm[mark])},
                }
        series.append({"time": f"{truth.start + mark}:00:00Z", "data": data})
    units = {
        "air_temperature": "celsius", "dew_point_temperature": "celsius", "relative_humidity": "%", "wind_speed": "m/s",
        "cloud_area_fraction": "%", "air_pressure_at_sea_level": "hPa", "precipitation_amount": "mm",
    }  # fmt: skip
    return {
        "type": "Feature",
        "properties": {"meta": {"updated_at": "2001-06-01T00:00:00Z", "units": units}, "timeseries": series},
    }


def pvgis(truth: Truth, sun_at_stamp: tuple[F64, F64, F64], seen: OutsideWeather, offset_h: float) -> dict[str, Any]:
    """A typical year: everything at the stamp, sun a little later; months carry years of their own."""
    ghi, dni, dhi = sun_at_stamp
    air, dew, wind = (truth.at(name, 0) for name in ("air_c", "dew_c", "wind_m_s"))
    longwave = np.concatenate(
        (seen.longwave_down_w_m2[:1], 0.5 * (seen.longwave_down_w_m2[1:] + seen.longwave_down_w_m2[:-1]))
    )
    rows = []
    for k, text in enumerate(stamps(truth.start, truth.n_hours)):
        year = 2005 + int(text[5:7]) % 7
        rows.append({
            "time(UTC)": f"{year}{text[5:7]}{text[8:10]}:{text[11:13]}00", "T2m": round(float(air[k]), 2),
            "RH": round(float(rh_percent(air[k], dew[k])), 2), "G(h)": round(float(ghi[k]), 2),
            "Gb(n)": round(float(dni[k]), 2), "Gd(h)": round(float(dhi[k]), 2), "IR(h)": round(float(longwave[k]), 2),
            "WS10m": round(float(wind[k]), 2), "WD10m": 200.0, "SP": round(float(seen.pressure_pa[k]), 0),
        })  # fmt: skip
    location = {"latitude": 44.3, "longitude": -72.6, "elevation": 250.0, "irradiance_time_offset": offset_h}
    meteo = {"radiation_db": "PVGIS-NSRDB", "meteo_db": "ERA5", "year_min": 2005, "year_max": 2023}
    months = [{"month": m, "year": 2005 + m % 7} for m in range(1, 13)]
    return {
        "inputs": {"location": location, "meteo_data": meteo},
        "outputs": {"months_selected": months, "tmy_hourly": rows},
        "meta": {},
    }


def days_of(truth: Truth) -> tuple[list[date], F64, F64, F64]:
    """(days, Tmin, Tmax, rain) of whole UTC days."""
    n = truth.n_hours // 24
    air = truth.mean("air_c")[: 24 * n].reshape(n, 24)
    first = truth.start.astype("datetime64[D]").astype(date)
    days = [date.fromordinal(first.toordinal() + k) for k in range(n)]
    return days, air.min(axis=1), air.max(axis=1), truth.rain_mm()[: 24 * n].reshape(n, 24).sum(axis=1)


def acis(truth: Truth, missing: tuple[int, ...] = ()) -> dict[str, Any]:
    """Strings; M and T; elevation in feet."""
    rows = []
    for k, (day, low, high, rain) in enumerate(zip(*days_of(truth), strict=True)):
        wet = f"{rain:.1f}" if rain else "T" if k % 5 == 0 else "0.0"
        rows.append([day.isoformat(), "M" if k in missing else f"{low:.2f}", f"{high:.2f}", wet])
    meta = {"name": "HILLSIDE", "state": "VT", "ll": [-72.6, 44.3], "elev": 820.2, "sids": ["USC00430000 6"]}
    return {"meta": meta, "data": rows}


def ncei_daily(truth: Truth, missing: tuple[int, ...] = ()) -> list[dict[str, str]]:
    """A flat list of space-padded strings; missing data types are left out of the object."""
    rows = []
    for k, (day, low, high, rain) in enumerate(zip(*days_of(truth), strict=True)):
        row = {
            "STATION": "USC00430000",
            "DATE": day.isoformat(),
            "TMAX": f"{high:8.2f}",
            "TMIN": f"{low:8.2f}",
            "PRCP": f"{rain:7.1f}",
        }
        if k in missing:
            del row["TMIN"]
        rows.append(row)
    return rows


def serve_all(truth: Truth, seen: OutsideWeather) -> StandIn:
    """One server for all the hourly services that carry a stretch of real time."""

    def open_meteo_route(asked: Asked) -> Answer | dict[str, Any]:
        if asked.query.get("wind_speed_unit") != "ms":
            return open_meteo(truth, seen, kmh=True)
        return open_meteo(truth, seen)

    return StandIn({
        "/v1/forecast": open_meteo_route,
        "/v1/archive": open_meteo_route,
        "/api/temporal/hourly/point": lambda asked: nasa_hourly(truth, seen),
        "/points/44.3,-72.6": lambda asked: nws_point(),
        "/gridpoints/BTV/110,52": lambda asked: nws_gridpoint(truth, seen),
        "/weatherapi/locationforecast/2.0/complete": lambda asked: met_norway(truth, seen),
    })  # fmt: skip


# --- files --------------------------------------------------------------------------------------------------------


def epw_text(truth: Truth, seen: OutsideWeather, *, offset_h: float = -5.0, years: bool = True) -> str:
    """Hour-ending local standard time; `truth` must begin at local midnight of 1 January and last a year."""
    head = [
        f"LOCATION,Hillside,VT,USA,TEST,726170,{truth.place.latitude_deg},{truth.place.longitude_deg},{offset_h},{truth.place.elevation_m}",
        "DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made up", "COMMENTS 2,for tests", "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]  # fmt: skip
    ghi = seen.dhi_w_m2 + seen.dni_w_m2 * np.clip(np.cos(np.radians(seen.sun_zenith_deg)), 0, 1)
    air, dew, wind, cloud = (truth.at(name)[1:] for name in ("air_c", "dew_c", "wind_m_s", "cloud"))
    rh = rh_percent(air, dew)
    rows = []
    for k in range(truth.n_hours):
        day = (np.datetime64("2001-01-01T00", "h") + k).astype(object)
        year = 1990 + day.month if years else 2001
        cells = [""] * 35
        cells[:5] = [str(year), str(day.month), str(day.day), str(day.hour + 1), "0"]
        cells[5:10] = ["?9", f"{air[k]:.2f}", f"{dew[k]:.2f}", f"{rh[k]:.1f}", f"{seen.pressure_pa[k]:.0f}"]
        cells[10:16] = [
            "0",
            "0",
            f"{seen.longwave_down_w_m2[k]:.1f}",
            f"{ghi[k]:.1f}",
            f"{seen.dni_w_m2[k]:.1f}",
            f"{seen.dhi_w_m2[k]:.1f}",
        ]
        cells[16:24] = ["0", "0", "0", "0", "200", f"{wind[k]:.2f}", f"{10 * cloud[k]:.1f}", f"{10 * cloud[k]:.1f}"]
        cells[24:] = [
            "16",
            "77777",
            "9",
            "999999999",
            "0",
            "0",
            "0",
            "88",
            "0.2",
            f"{seen.precipitation_mm[k]:.2f}",
            "1",
        ]
        rows.append(",".join(cells))
    return "\n".join(head + rows) + "\n"


def hourly_csv(truth: Truth, seen: OutsideWeather, *, ending: bool = False, offset_h: int = 0) -> str:
    """Our own table in the reading with RH and global sun too; hour-beginning or hour-ending, on any clock."""
    p = truth.place
    local = truth.start + offset_h + (1 if ending else 0)
    sign = f"{offset_h:+03d}:00"
    ghi = seen.dhi_w_m2 + seen.dni_w_m2 * np.clip(np.cos(np.radians(seen.sun_zenith_deg)), 0, 1)
    rows = [f"# latitude: {p.latitude_deg}", f"# longitude: {p.longitude_deg}", f"# elevation: {p.elevation_m}",
            f"# time_zone: {p.time_zone}",
            f"{'time_end' if ending else 'time'},air_c,dew_point_c,wind_m_s,dni_w_m2,dhi_w_m2,ghi_w_m2,cloud,precipitation_mm"]  # fmt: skip
    air, dew, wind, cloud = (truth.mean(name) for name in ("air_c", "dew_c", "wind_m_s", "cloud"))
    for k, stamp in enumerate(stamps(local, truth.n_hours)):
        rows.append(
            f"{stamp}{sign},{air[k]:.2f},{dew[k]:.2f},{wind[k]:.2f},{seen.dni_w_m2[k]:.1f},{seen.dhi_w_m2[k]:.1f},"
            f"{ghi[k]:.1f},{cloud[k]:.3f},{seen.precipitation_mm[k]:.2f}"
        )
    return "\n".join(rows) + "\n"
