"""A family: where it lives, what it has, when it is home, what it likes to eat."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from underglass.place.place import Place
from underglass.plan.wishes import Wishes
from underglass.shelter.model import Shelter, Visits

__all__ = ["Household", "KnownClimate", "SeedPacket", "StandingCrop", "Units"]

Units = Literal["c", "f"]


@dataclass(frozen=True, slots=True)
class KnownClimate:
    """What the family knows of its own climate; each better layer replaces what it knows better.

    tmin_c, tmax_c : 12 monthly means of the day's lowest and highest temperature [degC], empty if not known
    sun_h          : 12 monthly sums of sunshine hours, empty if not known
    last_frost     : (month, day) of the middle date of the last 0 degC night in the air, None if not known
    """

    tmin_c: tuple[float, ...] = ()
    tmax_c: tuple[float, ...] = ()
    sun_h: tuple[float, ...] = ()
    last_frost: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class SeedPacket:
    """Seed on hand: crop id, year it was packed for, number of seeds (None: not counted).

    storage_k, storage_rh : temperature [K] and relative humidity 0-1 that it is kept at, None: not known
    n_sown, n_up : seeds laid out in its germination tests and those that came up
    """

    crop_id: str
    packed: int
    count: int | None = None
    storage_k: float | None = None
    storage_rh: float | None = None
    n_sown: int = 0
    n_up: int = 0


@dataclass(frozen=True, slots=True)
class StandingCrop:
    """What stands where: crop id, shelter, stage in a word (seed, seedling, young, hardened, large leaf, fruiting), whether in a tray.

    hardened_days : days since its hardening off began, 0 where it has not
    """

    crop_id: str
    shelter: str
    stage: str = "young"
    in_tray: bool = False
    hardened_days: int = 0


@dataclass(frozen=True, slots=True)
class Household:
    """Everything the guide needs to know about a family.

    crops : ids of the crops wanted, empty for all of the catalogue;  weather_file : a file instead of the climate's layers
    standing : what grows where now, for the lid plan
    """

    name: str
    place: Place
    shelters: tuple[Shelter, ...]
    crops: tuple[str, ...] = ()
    seeds: tuple[SeedPacket, ...] = ()
    visits: Visits = field(default_factory=Visits)
    climate: KnownClimate = field(default_factory=KnownClimate)
    weather_file: str | None = None
    standing: tuple[StandingCrop, ...] = ()
    units: Units = "c"
    wishes: Wishes = field(default_factory=Wishes)

    def seed_ages(self, on: np.datetime64) -> dict[str, float]:
        """Age of the youngest packet of each crop, in years, on a date."""
        year = int(str(on)[:4])
        ages: dict[str, float] = {}
        for packet in self.seeds:
            age = float(max(0, year - packet.packed))
            ages[packet.crop_id] = min(age, ages.get(packet.crop_id, age))
        return ages
