"""The records of a notebook, one frozen class for each table; the fields are the columns, in this order.

A record is made without `id`, `created` and `version`; the notebook fills them when it is added.  To change one, `replace` its fields and
hand it to `update`: the version it was read with tells whether somebody else changed it meanwhile.  Times are UTC and aware, dates are local days.
A field that ends in `_id` names another record.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, ClassVar, Literal, get_args

from underglass.place.place import Terrain
from underglass.plan.household import Units

__all__ = [
    "STAGES",
    "GerminationTest",
    "HarvestRecord",
    "HouseholdRecord",
    "LidAction",
    "LidSetting",
    "Loss",
    "Note",
    "Origin",
    "PacketRecord",
    "Photo",
    "Pin",
    "PlannedDay",
    "Probe",
    "Reading",
    "ReadingKind",
    "Record",
    "Setting",
    "ShelterRecord",
    "Sowing",
    "Stage",
    "Tuning",
    "VisitException",
    "Watering",
]

Stage = Literal["seed", "seedling", "hardening", "standing", "large leaf", "fruiting", "done"]
STAGES: tuple[Stage, ...] = get_args(Stage)
"""The stages of a sowing in their order; standing is set out, or past its first leaves where it was sown."""

Origin = Literal["plan", "pinned", "own"]
Probe = Literal["air", "soil", "leaf", "outside"]
ReadingKind = Literal["now", "min", "max"]
LidSetting = Literal[
    "shut", "gap", "open", "off", "cover on", "cover off", "fleece on", "fleece off", "trays in", "trays out"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has: its id, when it was written (UTC), and how often it was changed, from 1 on."""

    TABLE: ClassVar[str] = ""

    id: str = ""
    created: datetime = datetime(1970, 1, 1, tzinfo=UTC)
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseholdRecord(Record):
    """The one household of the notebook: its place, its climate as far as it knows it, its visits and what it likes to eat.

    horizon : (azimuth, elevation) pairs in degrees    last_frost : (month, day)    wishes : what the year's planner is told
    """

    TABLE: ClassVar[str] = "household"

    name: str
    units: Units
    place_name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    terrain: Terrain
    horizon: tuple[tuple[float, float], ...]
    last_frost: tuple[int, int] | None = None
    tmin_c: tuple[float, ...] = ()
    tmax_c: tuple[float, ...] = ()
    sun_h: tuple[float, ...] = ()
    weather_file: str | None = None
    weekday_h: tuple[float, ...] = ()
    weekend_h: tuple[float, ...] = ()
    crops: tuple[str, ...] = ()
    wishes: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelterRecord(Record):
    """A shelter, whole, as TOML.  own_visits : it names its own times; otherwise the household's hold."""

    TABLE: ClassVar[str] = "shelters"

    name: str
    toml: str
    position: int = 0
    active: bool = True
    own_visits: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning(Record):
    """What readings taught about a shelter: fitted parameters, the interval of each, and how good the fit is."""

    TABLE: ClassVar[str] = "tunings"

    shelter_id: str
    parameters: dict[str, float]
    intervals: dict[str, tuple[float, float]]
    quality: dict[str, Any] = field(default_factory=dict)
    active: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitException(Record):
    """A day whose visits differ.  hours : standard clock hours; empty: nobody is home."""

    TABLE: ClassVar[str] = "visit_exceptions"

    on: date
    hours: tuple[float, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketRecord(Record):
    """Seed on hand.  packed : year on the packet; count seeds or mass_kg, none where not counted; storage_k, storage_rh where known."""

    TABLE: ClassVar[str] = "packets"

    crop_id: str
    packed: int
    variety: str = ""
    count: int | None = None
    mass_kg: float | None = None
    bought_from: str = ""
    storage_k: float | None = None
    storage_rh: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GerminationTest(Record):
    """A test of a packet: n_sown seeds laid out, n_up of them came up by the day."""

    TABLE: ClassVar[str] = "germination_tests"

    packet_id: str
    on: date
    n_sown: int
    n_up: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sowing(Record):
    """One sowing: what, where, when, how much, and how far it is.

    grown_in_id : where it is sown directly or set out to    raised_in_id : where it is raised first    stands_in_id : where it stands now
    count seeds or plants, cells of a tray, area_m2 of bed    came_up_on … done_on : the day each stage was reached
    sown_known : False for what stood already when the notebook was begun; sown_on is then the day it was begun
    """

    TABLE: ClassVar[str] = "sowings"

    crop_id: str
    sown_on: date
    grown_in_id: str
    stands_in_id: str
    raised_in_id: str | None = None
    variety: str = ""
    packet_id: str | None = None
    count: int | None = None
    cells: int | None = None
    area_m2: float | None = None
    stage: Stage = "seed"
    came_up_on: date | None = None
    hardening_on: date | None = None
    standing_on: date | None = None
    large_leaf_on: date | None = None
    fruiting_on: date | None = None
    done_on: date | None = None
    origin: Origin = "own"
    sown_known: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Record):
    """A thermometer's word.  in_sun: did the sun shine on the probe; none: not said.  source_file: name of the logger's file."""

    TABLE: ClassVar[str] = "readings"

    at: datetime
    value_k: float
    shelter_id: str | None = None
    probe: Probe = "air"
    kind: ReadingKind = "now"
    depth_m: float | None = None
    height_m: float | None = None
    in_sun: bool | None = None
    source_file: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LidAction(Record):
    """What was done to a shelter.  gap_m : how far the lid is propped, for setting 'gap'."""

    TABLE: ClassVar[str] = "lid_actions"

    at: datetime
    shelter_id: str
    setting: LidSetting
    gap_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Watering(Record):
    """Water given to a shelter or to one sowing.  volume_m3 where it was measured."""

    TABLE: ClassVar[str] = "waterings"

    at: datetime
    shelter_id: str | None = None
    sowing_id: str | None = None
    volume_m3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HarvestRecord(Record):
    """What came in from a sowing on a day, by mass or by servings."""

    TABLE: ClassVar[str] = "harvests"

    sowing_id: str
    on: date
    mass_kg: float | None = None
    servings: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss(Record):
    """What was lost of a sowing, and why: a cause in the words of crop/outcome.py or the family's own.  count none: all of it."""

    TABLE: ClassVar[str] = "losses"

    sowing_id: str
    on: date
    cause: str
    count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Record):
    """A few words, perhaps about a shelter or a sowing."""

    TABLE: ClassVar[str] = "notes"

    at: datetime
    text: str
    tags: tuple[str, ...] = ()
    shelter_id: str | None = None
    sowing_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Record):
    """A picture.  file : its generated name in the notebook's photo folder."""

    TABLE: ClassVar[str] = "photos"

    at: datetime
    file: str
    caption: str = ""
    shelter_id: str | None = None
    sowing_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin(Record):
    """A choice of the family's that the year's planner must respect: a sowing to keep, or one never to propose again."""

    TABLE: ClassVar[str] = "pins"

    crop_id: str
    wish: Literal["keep", "drop"]
    sow_on: date | None = None
    grown_in_id: str | None = None
    raised_in_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDay(Record):
    """What the lid plan said last of each hour of a day in a shelter.  Not part of undo: it is computed.

    start : first hour of the local day, UTC    low_k, middle_k, high_k : inside air by hour at p10, p50, p90; None where no plan spoke of it
    steps : the settings it asked for, each with from (UTC hour), gap_m, night_cover, fleece, off
    """

    TABLE: ClassVar[str] = "planned_days"

    shelter_id: str
    on: date
    start: datetime
    low_k: tuple[float | None, ...]
    middle_k: tuple[float | None, ...]
    high_k: tuple[float | None, ...]
    steps: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Record):
    """A choice of a face or a service under its key, which is the id."""

    TABLE: ClassVar[str] = "settings"

    value: dict[str, Any]
