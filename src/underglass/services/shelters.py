"""Several shelters over the same weather, two at a time: the kernel lets the other thread run."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

from underglass.crop.drivers import ShelterDays, joined_days, shelter_days
from underglass.services.progress import Progress
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import PIECE_H, simulate, simulate_pieces
from underglass.weather.days import local_days
from underglass.weather.outside import OutsideWeather

__all__ = ["days_in", "inside_all"]

THREADS = 2


def inside_all(shelters: Sequence[Shelter], outside: OutsideWeather) -> dict[str, InsideWeather]:
    """Inside weather of each shelter by name."""
    with ThreadPoolExecutor(THREADS) as pool:
        return {inside.shelter_name: inside for inside in pool.map(lambda s: simulate(s, outside), shelters)}


def days_in(shelters: Sequence[Shelter], outside: OutsideWeather, progress: Progress) -> dict[str, ShelterDays]:
    """Daily values of each shelter by name; the hours themselves are let go as soon as they are summed up."""
    done, first = 0, local_days(outside.place, outside.start, outside.n_hours).first_hour
    cuts = range(first + PIECE_H // 24 * 24, outside.n_hours - 24, PIECE_H // 24 * 24)

    def one(shelter: Shelter) -> ShelterDays:
        nonlocal done
        days = joined_days([shelter_days(piece) for piece in simulate_pieces(shelter, outside, cuts)])
        done += 1
        progress(0.1 + 0.4 * done / len(shelters), f"inside the {shelter.name}")
        return days

    with ThreadPoolExecutor(THREADS) as pool:
        return {days.name: days for days in pool.map(one, shelters)}
