"""What a crop is: facts of the trade as plain values, each with its source in the data files beside this module.

Temperatures of the trade's tables stay in degC (names end in _c); kernels convert once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Bolting",
    "Crop",
    "Germination",
    "Growth",
    "Hardiness",
    "Harvest",
    "Kind",
    "Kitchen",
    "SeedFacts",
    "Spacing",
]

Kind = Literal["leaf", "root", "fruit", "herb", "allium", "legume", "flower", "head"]


@dataclass(frozen=True, slots=True)
class Germination:
    """Speed and success of coming up, by soil temperature at the depth of the seed.

    days_at   : (degC, days to emerge) as tabled; inf where nothing comes up
    normal_at : (degC, share of normal seedlings 0-1) as tabled, empty where no table exists
    method    : 'interp' rate interpolated between tabled temperatures, 'thermal' by thermal time alone
    base_c, thermal_time_cday : thermal-time fit;  floor_c, ceiling_c : nothing comes up outside these
    depth_m   : sowing depth [m]
    """

    days_at: tuple[tuple[float, float], ...]
    normal_at: tuple[tuple[float, float], ...]
    method: Literal["interp", "thermal"]
    base_c: float
    thermal_time_cday: float
    floor_c: float
    ceiling_c: float
    depth_m: float


@dataclass(frozen=True, slots=True)
class Growth:
    """Growth by temperature and light.

    base_c, best_low_c, best_high_c, ceiling_c : cardinal temperatures of the growth rate
    month_best_c      : range of monthly means for best quality
    reference_c       : temperature at which the tabled days hold
    to_baby_cday, to_full_cday : degree-days above base from sowing (None: no baby harvest)
    set_out_to_full_cday : from set-out to full size (None: not raised ahead)
    light_least, light_good : daily light integral at which growth is poor, and no longer held back [mol/m2 d]
    bulb_day_h        : day length from which bulbs swell [h], None: no bulb
    early_share, early_share_set_out : days of early varieties over the middle of the table, from sowing and from set-out, 0-1
    raise_weeks       : (least, most) weeks from sowing to set-out, None: sown where it stays
    harden_days       : days of hardening off;  harden_night_c : coldest night meanwhile;  harden_start_c : coldest air of its first days
    set_out_night_c   : coldest night that young plants should meet when set out
    """

    base_c: float
    best_low_c: float
    best_high_c: float
    ceiling_c: float
    month_best_c: tuple[float, float]
    reference_c: float
    to_baby_cday: float | None
    to_full_cday: float
    set_out_to_full_cday: float | None
    early_share: float
    early_share_set_out: float
    bulb_day_h: float | None
    light_least: float
    light_good: float
    raise_weeks: tuple[float, float] | None
    harden_days: float
    harden_night_c: float | None
    harden_start_c: float | None
    set_out_night_c: float


@dataclass(frozen=True, slots=True)
class Hardiness:
    """Cold and heat limits at the leaf.

    name : 'tender', 'half-hardy', 'hardy', 'very hardy'
    kill_soft_c, kill_hard_c : air at the leaf that kills about half, not hardened and fully hardened
    buds_below_ground : seedlings frozen off come again from buds under the soil (pea, broad bean)
    bud_kill_c, bloom_kill_c, green_fruit_kill_c : frost that takes closed buds, open flowers, young fruit while the plant lives on
    stress_c, injury_c, lethal_c : heat: growth suffers, leaves are hurt, tissue dies
    set_day_max_c, set_night_max_c, set_night_min_c : limits of fruit set, None where they do not apply
    set_light_per_c : daily light for each degree of the day's mean below which fewer set [mol/m2 K], None: not known to matter
    """

    name: str
    kill_soft_c: float
    kill_hard_c: float
    buds_below_ground: bool
    bud_kill_c: float | None
    bloom_kill_c: float | None
    green_fruit_kill_c: float | None
    stress_c: float
    injury_c: float
    lethal_c: float
    set_day_max_c: float | None
    set_night_max_c: float | None
    set_night_min_c: float | None
    set_light_per_c: float | None


@dataclass(frozen=True, slots=True)
class Bolting:
    """What makes it run to seed.

    kind, trigger : as in the table;  size_gate : size from which cold counts
    cold below cold_c [degC] for cold_hours [h];  days longer than day_length_h [h]
    """

    kind: str
    trigger: str
    size_gate: str
    cold_c: float | None
    cold_hours: float | None
    day_length_h: float | None


@dataclass(frozen=True, slots=True)
class Harvest:
    """How it is picked: 'single' or repeated.

    interval_days : between two pickings in its best month;  regrow_cday : the same as growth [degree-days], None: reckoned from the days
    cuts : pickings that the tabled yield stands for;  most_cuts : pickings until the plant is worn out
    ripen_days : from open flower to picking, None: not fruit;  yield_kg_m2 : low, typical, high
    """

    mode: str
    interval_days: float | None
    cuts: int
    most_cuts: int
    regrow_cday: float | None
    ripen_days: float | None
    yield_kg_m2: tuple[float, float, float] | None
    baby_cut_kg_m2: float | None

    @property
    def single(self) -> bool:
        """Taken once."""
        return self.cuts <= 1


@dataclass(frozen=True, slots=True)
class Spacing:
    """Room it needs.  in_row_m, between_m [m]; per_m2 plants; height_m full-grown [m]; low_lid: fits under a 30 cm lid"""

    in_row_m: float
    between_m: float
    per_m2: float
    height_m: float
    low_lid: Literal["yes", "while young", "seedling only"]


@dataclass(frozen=True, slots=True)
class SeedFacts:
    """Seed life in a household [years], official minimum germination [0-1], seeds per gram, Ellis-Roberts constants (KE, CW, CH, CQ)."""

    life_years: float | None
    official_germination: float | None
    per_gram: float | None
    viability: tuple[float, float, float, float] | None
    oil_share: float | None


@dataclass(frozen=True, slots=True)
class Kitchen:
    """On the table and on the way there.

    dish : what it counts as: 'salad', 'greens', 'roots', 'fruits', 'herbs', 'onions', 'beans', 'heads', 'flowers'
    serving_kg : one helping as picked [kg];  keep_weeks : how long it keeps in the kitchen or the ground [week]
    touches_soil : the edible part does, for the rule on raw manure;  pollination : 'none' needed, 'shake', 'insects' or 'wind'
    packet_seeds : seeds in a home gardener's packet
    """

    dish: str
    serving_kg: float
    keep_weeks: float
    touches_soil: bool
    pollination: str
    packet_seeds: int


@dataclass(frozen=True, slots=True)
class Crop:
    """One kind of plant with all that the fate of a sowing needs."""

    id: str
    name: str
    latin: str
    family: str
    kind: Kind
    germination: Germination
    growth: Growth
    hardiness: Hardiness
    bolting: Bolting
    harvest: Harvest
    spacing: Spacing
    seed: SeedFacts
    kitchen: Kitchen

    @property
    def tender(self) -> bool:
        """Killed by the first frost."""
        return self.hardiness.name == "tender"
