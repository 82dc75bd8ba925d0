"""A service by its name, end to end: asked over HTTP of a stand-in, kept, and served without the network the second time."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.sources import formats
from tests.sources.standins import Asked, StandIn
from tests.sources.truth import PLACE, Truth
from underglass.errors import InputError, SourceError
from underglass.faces.cli.options import read_weather
from underglass.sources import by_name
from underglass.sources.open_meteo import open_meteo_archive
from underglass.sources.web import WebClient


def piece(asked: Asked) -> dict[str, Any]:
    start = np.datetime64(asked.query["start_date"] + "T00", "h")
    end = np.datetime64(asked.query["end_date"] + "T00", "h") + 24
    truth = Truth(start - 1, int((end - start).astype(int)))
    data = formats.open_meteo(truth, truth.outside())
    data["hourly"] = {name: values[1:] for name, values in data["hourly"].items()}
    return data


def test_asked_once_then_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(by_name, "RECORD_YEARS", 2)
    with StandIn({"/v1/archive": piece}) as service:
        monkeypatch.setattr(by_name, "open_meteo_archive", partial(open_meteo_archive, base_url=service.url))
        first = by_name.weather_by_name("open-meteo", PLACE, 2020, WebClient(tmp_path))
        asked = len(service.asked)
        again = by_name.weather_by_name("open-meteo", PLACE, 2020, WebClient(tmp_path, offline=True))
        assert len(service.asked) == asked
    assert first.n_hours >= 2 * 8760
    assert (first.air_temp_k == again.air_temp_k).all()
    assert "Copernicus" in first.provenance.licence


def test_offline_without_a_kept_reply_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="go online once"):
        by_name.weather_by_name("open-meteo", PLACE, 2020, WebClient(tmp_path, offline=True))


def test_a_service_needs_a_place() -> None:
    with pytest.raises(InputError, match="needs a place"):
        read_weather("pvgis", None)
