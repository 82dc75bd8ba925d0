"""Weather over the network by the name of its service, for people who write `--weather open-meteo` instead of a file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from underglass.errors import SourceError
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

__all__ = ["FORECASTS", "SERVICES", "ensemble_by_name", "forecast_by_name", "weather_by_name"]

RECORD_YEARS = 32
"""Years asked of a record: thirty to sow in, two to finish in."""


def _open_meteo(client: WebClient, place: Place, last_year: int) -> OutsideWeather:
    return open_meteo_archive(client, place, date(last_year - RECORD_YEARS + 1, 1, 1), date(last_year, 12, 31))


def _nasa_power(client: WebClient, place: Place, last_year: int) -> OutsideWeather:
    first = max(2001, last_year - RECORD_YEARS + 1)
    return nasa_power_hourly(client, place, date(first, 1, 1), date(last_year, 12, 31))


def _pvgis(client: WebClient, place: Place, last_year: int) -> OutsideWeather:
    return pvgis_typical_year(client, place)


def _acis(client: WebClient, place: Place, last_year: int) -> OutsideWeather:
    """The nearest station's days, turned into hours."""
    first, last = date(last_year - RECORD_YEARS + 1, 1, 1), date(last_year, 12, 31)
    stations = acis_stations(client, place, first, last)
    if not stations:
        raise SourceError("ACIS: no station with temperatures near this place; ACIS knows the United States only")
    return hours_of_days(acis_daily(client, stations[0].sid, first, last, time_zone=place.time_zone))


SERVICES: dict[str, Callable[[WebClient, Place, int], OutsideWeather]] = {
    "open-meteo": _open_meteo,
    "nasa-power": _nasa_power,
    "pvgis": _pvgis,
    "acis": _acis,
}
"""Names that may stand in for a weather file."""


def weather_by_name(name: str, place: Place, last_year: int, client: WebClient | None = None) -> OutsideWeather:
    """Hours of the past at a place from a service, up to the end of `last_year`; kept on disk, so that it is asked once.

    Raises SourceError where the service can't be used and nothing is kept.
    """
    return SERVICES[name](client or WebClient(), place, last_year)


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
