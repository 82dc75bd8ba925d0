"""Weather over the network by the name of its service, for people who write `--weather open-meteo` instead of a file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from underglass.errors import InputError, SourceError
from underglass.place.place import Place
from underglass.sources.acis import acis_daily, acis_stations
from underglass.sources.daily_hours import hours_of_days
from underglass.sources.met_norway import met_norway_forecast
from underglass.sources.nasa_power import nasa_power_hourly
from underglass.sources.nws import nws_forecast
from underglass.sources.open_meteo import open_meteo_archive, open_meteo_ensemble, open_meteo_forecast
from underglass.sources.pvgis import pvgis_typical_year
from underglass.sources.web import WebClient
from underglass.weather.outside import OutsideWeather

__all__ = ["FORECASTS", "SERVICES", "ensemble_by_name", "forecast_by_name", "weather_between", "weather_by_name"]

RECORD_YEARS = 32
"""Years asked of a record: thirty to sow in, two to finish in."""


def _acis(client: WebClient, place: Place, first: date, last: date) -> OutsideWeather:
    """The nearest station's days, turned into hours."""
    stations = acis_stations(client, place, first, last)
    if not stations:
        raise SourceError("ACIS: no station with temperatures near this place; ACIS knows the United States only")
    return hours_of_days(acis_daily(client, stations[0].sid, first, last, time_zone=place.time_zone))


RECORDS: dict[str, tuple[int, Callable[[WebClient, Place, date, date], OutsideWeather]]] = {
    "open-meteo": (1940, lambda client, place, first, last: open_meteo_archive(client, place, first, last)),
    "nasa-power": (2001, lambda client, place, first, last: nasa_power_hourly(client, place, first, last)),
    "acis": (1850, _acis),
}
"""Services that keep a record, and its first year."""

SERVICES = (*RECORDS, "pvgis")
"""Names that may stand in for a weather file."""


def weather_between(
    name: str, place: Place, first: date, last: date, client: WebClient | None = None
) -> OutsideWeather:
    """Hours of the days from `first` to `last` at a place from a service that keeps a record.

    Raises InputError for a service of typical years, SourceError where it can't be used and nothing is kept.
    """
    if name not in RECORDS:
        raise InputError(f"--weather {name} is a typical year, not these days; use {', '.join(RECORDS)} or a file")
    return RECORDS[name][1](client or WebClient(), place, first, last)


def weather_by_name(name: str, place: Place, last_year: int, client: WebClient | None = None) -> OutsideWeather:
    """Hours of the past at a place from a service, up to the end of `last_year`; kept on disk, so that it is asked once.

    Raises SourceError where the service can't be used and nothing is kept.
    """
    if name == "pvgis":
        return pvgis_typical_year(client or WebClient(), place)
    first = max(RECORDS[name][0], last_year - RECORD_YEARS + 1)
    return weather_between(name, place, date(first, 1, 1), date(last_year, 12, 31), client)


PAST_DAYS = 45
"""Days before now asked of a forecast service that has them: the soil remembers them."""

FORECASTS: dict[str, Callable[[WebClient, Place], OutsideWeather]] = {
    "open-meteo": lambda client, place: open_meteo_forecast(client, place, past_days=PAST_DAYS),
    "nws": nws_forecast,
    "met-norway": met_norway_forecast,
}
"""Names of services that know the days ahead."""


def forecast_by_name(name: str, place: Place, client: WebClient | None = None) -> OutsideWeather:
    """The days ahead at a place, with those before where the service has them; the last kept reply serves without a network.

    Raises SourceError where the service can't be used and nothing is kept.
    """
    return FORECASTS[name](client or WebClient(), place)


def ensemble_by_name(name: str, place: Place, client: WebClient | None = None) -> tuple[OutsideWeather, ...]:
    """The members of the service's ensemble, empty where it has none or it can't be had: the plan then spreads the forecast itself."""
    if name != "open-meteo":
        return ()
    try:
        return open_meteo_ensemble(client or WebClient(), place)
    except SourceError:
        return ()
