"""The fate of many sowings of one crop, day by day: comes up, grows, hardens, is set out, is frozen, cooked, bolts or feeds.

One compiled loop over sowings; what does not depend on the sowing date (temperatures, light, germination pace) comes ready from drivers.py.
Each year has one stand of plants with one toughness, drawn once: the same for all sowing dates and places of that year, so that two dates
differ by their weather and not by luck, and chances over the years are smooth.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit
from underglass.crop.bolting import bolt_rule
from underglass.crop.germination import CELL_LOSS_AT_10C, CELL_LOSS_DOUBLES_DK
from underglass.crop.growth import DARK_GROWTH, needs_cday, reference_degrees
from underglass.crop.hardiness import (
    FULL_MEAN_C,
    GAIN_PER_DAY,
    HEAT_SPREAD_DK,
    LOSS_PER_DAY,
    NONE_MEAN_C,
    cold_spread_dk,
    kill_temp_c,
)
from underglass.crop.outcome import Fate
from underglass.crop.types import Crop

__all__ = ["Fates", "FateRule", "fate_rule", "fates", "toughness"]

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

GERM, COME_UP, DEGREES, COLD_H, LIGHT, LEAF_MIN, HOUR_MIN, LEAF_MAX, HOUR_MAX, MEAN, NIGHT, DAY_MAX, FROZEN = range(13)

LONGEST_IN_GROUND_D = 150
"""Days after which seed that has not come up is given up (onion at 0 degC took 136, Harrington & Minges 1954)."""

ROT_HARDY_D = (30.0, 30.0)
ROT_TENDER_D = (14.0, 12.0)
"""Seed that lies in the ground longer than the first rots away with the second as time constant: hardy kinds, which winter in jugs and
rows, and tender ones, which do not (estimates; cloves do not rot)."""

LEAST_STAND = 0.25
"""Share of the seed that must come up for the sowing to count (estimate: sow four for one)."""

BOLT_SIZE = 0.2
"""Size from which a plant answers to day length, as a share of full size (juvenile phase; estimate)."""

STARVED_DAYS = 21
STARVED_SHARE = 0.35
"""A seedling in warmth (above 8 degC) with less light than this share of the crop's least for so many days falls over (estimate)."""

SET_OUT_CHECK_D = 4
"""Days that growth stands still after setting out (common practice: a few days' check)."""

BULB_SHARE = 0.6
"""Share of the full growth that a bulb fills with once days are long: two months at 11 degC above the base (estimate from common practice:
bulbs are lifted eight to ten weeks after they begin to swell)."""

ONION_SHARE, ONION_SIZE, ONION_RIPE = 0.4, 0.3, 0.7
"""The same for onions, six to eight weeks of the five months from seed; the size from which they swell; and that at which what has swollen is
worth lifting, as a smaller bulb (shares of full growth, estimates)."""

KIND_FOR_DAYS_H = 2.0
"""Families choose a kind that swells once days are this much shorter than the longest of the place, or at the tabled length if that is
shorter: onions of 12 h at 30 degrees, of 13 h at 40, of 14 h from 50 on (Oregon State Extension: 11-13, 13-14, 14 h and more)."""

BULB_BACK_H = 1.5
"""Days that are this much shorter than a bulb needs turn it back to leaf (estimate)."""

BUDS_BELOW_SHARE = 0.3
"""Pulses come again from buds below the ground up to this share of full growth (KSU_PEA: up to the seventh node; the share is an estimate)."""

CHILLED_D, CHILL_C = 28.0, 12.0
"""A tender plant is lost once it has met so many days more of cold than of warmth: days on which it hardly grows, or whose mean is under the
second figure.  Below 10-13 degC its like are hurt (cold notes of hardiness.csv), and none is carried through the cool months unheated (common
practice; the days are an estimate)."""

HARDENED_AT_SET_OUT = 0.45
"""Hardening of a seedling after a week and a half of hardening off (estimate)."""

EARLY_KINDS = ("fruit", "allium", "head", "legume")
"""Crops of which families choose early varieties: the short end of the tabled days counts, not the middle, both from sowing and from
set-out (common practice)."""

LONGEST_D = 400
"""No sowing is followed for longer [day]."""

LONGEST_CLOVE_D = 320.0
"""Cloves stand from October into the second half of July, in the coldest places into August (GARLIC_NNE): ten and a half months [day]."""

CLOVE_WARM_C = 15.0
"""Cloves go into soil that has cooled, to about 10 degC in Oregon's rule; where their way up is warmer than this on the average, they count as
planted too early (estimate: growers begin in late September in Vermont, in October in western Oregon)."""

STILL_SHARE = 0.1
"""Days that bring less growth than this share of a good one are not counted as waiting: what stands still through the winter is not given up
(common practice: autumn's small plants are picked in spring).  Cloves wait by the calendar."""

READY_SHARE = 0.55
"""Size at which a seedling can be set out, as a share of the usual size at set-out (common practice: smaller ones take, but later)."""

SEEDLING_LIGHT = 12.0
"""Daily light that seedlings of any kind can use [mol/m2] (general figure for seedlings, 10-15)."""

FIRST_CUT_SHARE = 0.6
"""Size at the first cut of a leaf crop without a tabled baby stage, as a share of full size (estimate)."""

SET_SLACK_K, SET_SLACK_NIGHT_K = 3.0, 2.0
"""Flowers set in full this far below the tabled limit of heat by day and by night, half at it, and not at all this far above (estimate: set
falls over some degrees, not at one temperature)."""

SET_COOL_K = 3.0
"""So far below the tabled limit of cool nights nothing sets (tomato: in full above 55 degF, ILL, not at all below 50, KSUHT)."""

SET_DAYS = 8.0
"""Days of full set that the first picking needs (estimate)."""

PULLED_D = 28
"""A fruiting plant that has given nothing for so long is pulled (common practice; the days are an estimate)."""

HOLD_SHARE = 0.35
"""A single crop can be taken until it has gone this share of its full growth past its best (estimate)."""

CODES = {name: int(code) for name, code in Fate.__members__.items()}
HARVESTED, COLD_SEED, HOT_SEED, OLD_SEED = (
    CODES["HARVESTED"],
    CODES["TOO_COLD_TO_COME_UP"],
    CODES["TOO_HOT_TO_COME_UP"],
    CODES["SEED_TOO_OLD"],
)
SEEDLING_FROZEN, PLANT_FROZEN, COOKED, STARVED = (
    CODES["SEEDLING_FROZEN"],
    CODES["PLANT_FROZEN"],
    CODES["COOKED"],
    CODES["STARVED_OF_LIGHT"],
)
OUTGREW, BOLTED, NO_FRUIT, NOT_READY, DRIED, BEYOND = (
    CODES["OUTGREW_CELL"],
    CODES["BOLTED"],
    CODES["NO_FRUIT_SET"],
    CODES["NOT_READY"],
    CODES["DRIED_OUT"],
    CODES["BEYOND_RECORD"],
)


class FateRule(NamedTuple):
    """Numbers of one crop for the kernel; degree-days from emergence, temperatures degC, days."""

    baby: float
    full: float
    ripe: float
    set_out: float
    least_age: float
    most_age: float
    harden: float
    light_good: float
    light_least: float
    kill_soft: float
    kill_hard: float
    seedling_softer: float
    spread: float
    injury: float
    lethal: float
    seed: float
    rot_after: float
    rot_scale: float
    cuts: float
    most_cuts: float
    worn_out: float
    regrow: float
    fruit: float
    ripen: float
    set_night_min: float
    set_night_max: float
    set_day_max: float
    set_light: float
    bloom_kill: float
    bolt_cold_h: float
    bolt_gate: float
    bolt_day_h: float
    bolt_warm: float
    bolt_pace: float
    bolt_at_once: float
    bulb_cold_h: float
    bulb_day_h: float
    bulb_need: float
    bulb_size: float
    longest: float
    still: float
    buds_below: float
    tender: float


class Fates(NamedTuple):
    """What became of each sowing, all arrays (n_sowings,); days are indices of local days, -1 where it did not get so far.

    outcome : codes of outcome.Fate      deciding, hour : day and hour of the local day that decided a loss
    share   : harvest as a share of the tabled one; over 1 where it bears for longer than the season that the table stands for
    """

    outcome: I32
    emerged: I32
    set_out: I32
    first: I32
    last: I32
    deciding: I32
    hour: I32
    share: F32


def fate_rule(crop: Crop, seed_share: float = 1.0) -> FateRule:
    """A crop's numbers for the kernel.  seed_share : of fresh seed's germination that the seed sown still has, 0-1"""
    g, hard, harvest = crop.growth, crop.hardiness, crop.harvest
    baby, full, set_out = needs_cday(crop)
    if crop.kind in EARLY_KINDS:  # a short season is met with early kinds
        full, set_out = _early(crop, full, set_out)
    rule = bolt_rule(crop)
    weeks = g.raise_weeks or (0.0, 0.0)
    fruiting = crop.kind in ("fruit", "legume") and crop.id != "sweet_corn"
    pace_c = max(g.reference_c - g.base_c, 4.0)
    bulb = crop.bolting.kind == "needs_cold_to_bulb"
    regrow = harvest.regrow_cday or (harvest.interval_days or 7.0) * reference_degrees(g)
    return FateRule(
        baby=_first_cut(crop, baby, full),
        full=full,
        ripe=ONION_RIPE * full if g.bulb_day_h and not bulb else full,
        set_out=set_out,
        least_age=0.8 * 7.0 * weeks[0],
        most_age=7.0 * weeks[1] + 21.0,
        harden=g.harden_days,
        light_good=g.light_good,
        light_least=g.light_least,
        kill_soft=kill_temp_c(crop, 0.0),
        kill_hard=kill_temp_c(crop, 1.0),
        seedling_softer=kill_temp_c(crop, 0.0, seedling=True) - kill_temp_c(crop, 0.0),
        spread=cold_spread_dk(crop),
        injury=hard.injury_c,
        lethal=hard.lethal_c,
        seed=seed_share,
        rot_after=(ROT_TENDER_D if crop.tender else ROT_HARDY_D)[0],
        rot_scale=(ROT_TENDER_D if crop.tender else ROT_HARDY_D)[1],
        cuts=float(harvest.cuts),
        most_cuts=float(harvest.most_cuts),
        worn_out=full + harvest.most_cuts * regrow,
        regrow=regrow,
        fruit=float(fruiting),
        ripen=harvest.ripen_days or 1.0,
        set_night_min=-99.0 if hard.set_night_min_c is None else hard.set_night_min_c,
        set_night_max=99.0 if hard.set_night_max_c is None else hard.set_night_max_c,
        set_day_max=99.0 if hard.set_day_max_c is None else hard.set_day_max_c,
        set_light=hard.set_light_per_c or 0.0,
        bloom_kill=-99.0 if hard.bloom_kill_c is None else hard.bloom_kill_c,
        bolt_cold_h=rule.needs_cold_h if rule else 1e9,
        bolt_gate=rule.gate_share if rule else 9.0,
        bolt_day_h=rule.day_h if rule else 99.0,
        bolt_warm=rule.warm_c if rule else 99.0,
        bolt_pace=rule.pace if rule else 0.0,
        bolt_at_once=float(rule.at_once) if rule else 0.0,
        bulb_cold_h=crop.bolting.cold_hours or 0.0 if bulb else 0.0,
        bulb_day_h=g.bulb_day_h or 0.0,
        bulb_need=(BULB_SHARE if bulb else ONION_SHARE) * full,
        bulb_size=0.0 if bulb else ONION_SIZE * full,
        longest=LONGEST_CLOVE_D if bulb else 120.0 + 2.5 * full / pace_c,
        still=0.0 if bulb else STILL_SHARE * pace_c,
        buds_below=float(hard.buds_below_ground),
        tender=float(crop.tender),
    )


def _early(crop: Crop, full: float, set_out: float) -> tuple[float, float]:
    """Degree-days to full size and to set-out of an early variety: the short ends of the days from sowing and of those from set-out."""
    early = full * crop.growth.early_share
    if set_out <= 0.0:
        return early, 0.0
    return early, max(early - (full - set_out) * crop.growth.early_share_set_out, 0.05 * early)


def _first_cut(crop: Crop, baby: float, full: float) -> float:
    """Degree-days to the first cut of what is cut and comes again; 0 where the whole plant is taken at once."""
    if crop.kind not in ("leaf", "herb"):
        return 0.0
    return baby if baby > 0.0 else FIRST_CUT_SHARE * full if not crop.harvest.single else 0.0


def toughness(n_years: int, seed: int, crop_id: str) -> F64:
    """Toughness of each year's stand: evenly spread shares in (0, 1), shuffled by the seed and the crop's name.  Shape (n_years,)"""
    mixed = seed
    for letter in crop_id:
        mixed = (mixed * 131 + ord(letter)) % (2**32)
    order = np.random.Generator(np.random.PCG64(mixed)).permutation(n_years)
    return np.asarray((order + 0.5) / n_years)


@njit(cache=True, error_model="numpy", inline="always")
def _chance(x: float) -> float:
    """Logistic curve, 0-1."""
    return float(1.0 / (1.0 + np.exp(min(max(x, -40.0), 40.0))))


@njit(cache=True, error_model="numpy", inline="always")
def _setting(r: FateRule, night_c: float, hottest_c: float, mean_c: float, light: float) -> float:
    """Share of the flowers of a day that set, 0-1, by its nights, its hottest hour, and the light of the week for each degree of warmth."""
    noon = (r.set_day_max + SET_SLACK_K - hottest_c) / (2.0 * SET_SLACK_K)
    warm = (r.set_night_max + SET_SLACK_NIGHT_K - night_c) / (2.0 * SET_SLACK_NIGHT_K)
    cool = (night_c - r.set_night_min + SET_COOL_K) / SET_COOL_K
    fed = light / (r.set_light * mean_c) if r.set_light * mean_c > light else 1.0
    return fed * min(max(min(noon, warm, cool), 0.0), 1.0)


@njit(cache=True, error_model="numpy")
def _come_up(r: FateRule, bed: F32, start: int, n_days: int, in_cell: bool) -> tuple[int, float, int]:
    """Day of emergence (-1: not), share that comes up, and the code of the failure."""
    gone = up = warmth = 0.0
    moist = 1.0
    clove = r.bulb_cold_h > 0.0
    if not in_cell and bed[FROZEN, start] > 0.0:
        return -1, 0.0, COLD_SEED
    for k in range(2 * LONGEST_IN_GROUND_D if clove else LONGEST_IN_GROUND_D):
        day = start + k
        if day >= n_days:
            return -1, 0.0, BEYOND
        step = bed[GERM, day]
        warmth += bed[MEAN, day]
        if in_cell:  # see germination.cell_drying
            moist *= 1.0 - min(CELL_LOSS_AT_10C * 2.0 ** ((bed[MEAN, day] - 10.0) / CELL_LOSS_DOUBLES_DK), 1.0)
        if gone + step >= 1.0:
            up = (up + bed[COME_UP, day] * (1.0 - gone) / step) * moist
            if clove:
                return (-1, 0.0, HOT_SEED) if warmth / (k + 1) > CLOVE_WARM_C else (day, r.seed, HARVESTED)
            if k > r.rot_after:
                up *= np.exp(-(k - r.rot_after) / r.rot_scale)
            if up * r.seed < LEAST_STAND:
                if up * r.seed >= LEAST_STAND * moist:
                    return -1, up, DRIED
                return -1, up, OLD_SEED if up >= LEAST_STAND else (HOT_SEED if warmth / (k + 1) > 16.0 else COLD_SEED)
            return day, up * r.seed, HARVESTED
        gone += step
        up += bed[COME_UP, day]
    return -1, 0.0, HOT_SEED if warmth / LONGEST_IN_GROUND_D > 18.0 else COLD_SEED


@njit(cache=True, error_model="numpy", inline="always")
def _harden(state: float, mean_c: float) -> float:
    """Hardening after one more day; see hardiness.hardened."""
    target = min(max((NONE_MEAN_C - mean_c) / (NONE_MEAN_C - FULL_MEAN_C), 0.0), 1.0)
    return state + (GAIN_PER_DAY if target > state else LOSS_PER_DAY) * (target - state)


def _fates(
    r: FateRule, raised: bool, nursery: F32, bed: F32, day_length: F32, safe: NDArray[np.uint8], starts: I32, tough: F64,
    outcome: I32, marks: NDArray[np.int32], share: F32,
) -> None:  # fmt: skip
    """Follow each sowing to its end.

    nursery, bed (13, n_days); day_length [h], safe 0/1 (n_days,); starts: day index; tough 0-1 (n,)
    fills outcome (n,), marks (n, 6): emerged, set out, first, last, deciding day and hour; share (n,)
    """
    n_days = bed.shape[1]
    swell_h = min(r.bulb_day_h, day_length.max() - KIND_FOR_DAYS_H)
    for s in range(starts.shape[0]):
        for j in range(6):
            marks[s, j] = -1
        share[s], start, u = 0.0, starts[s], tough[s]
        place = nursery if raised else bed
        day, _stand, code = _come_up(r, place, start, n_days, raised)
        outcome[s], marks[s, 0] = code, day
        if day < 0:
            marks[s, 4] = start
            continue
        in_cell, ready_since, pause, waited = raised, -1, 0, float(day - start)
        grown = heat = cold_h = bolt = dark = bulb = chilled = 0.0
        ripening = flowered = fruit_days = setting = 0.0
        hard, lives_cold, lives_heat, light = 0.1, 1.0, 1.0, place[LIGHT, day]
        picks, full_on, size = 0, -1, 1.0
        goal = r.baby if r.baby > 0.0 else r.full
        end = NOT_READY
        deciding, hour = -1, -1
        while True:
            day += 1
            age = day - start
            if day >= n_days:
                end = BEYOND
                break
            if (waited > r.longest and marks[s, 2] < 0) or age > LONGEST_D:
                break
            place = nursery if in_cell else bed
            # --- setting out
            if in_cell:
                if grown >= READY_SHARE * r.set_out and age >= r.least_age:
                    ready_since = day if ready_since < 0 else ready_since
                    if day - ready_since >= r.harden and safe[day] > 0:
                        in_cell, hard, pause = False, HARDENED_AT_SET_OUT, SET_OUT_CHECK_D
                        marks[s, 1] = day
                        place = bed
                        light = bed[LIGHT, day]
                if in_cell and age > r.most_age:
                    end, deciding, hour = OUTGREW, day, 12
                    break
            # --- growth
            light += (place[LIGHT, day] - light) / 7.0
            useful = min(r.light_good, SEEDLING_LIGHT) if grown < 0.3 * r.full else r.light_good
            share_light = DARK_GROWTH + (1.0 - DARK_GROWTH) * min(light / useful, 1.0)
            growth = place[DEGREES, day] * share_light
            waited += 1.0 if growth >= r.still else 0.0
            if pause > 0:
                pause -= 1
            else:
                grown += growth
            if in_cell:
                grown = min(grown, r.set_out)
            seedling = grown < 0.15 * r.full
            # --- cold and heat
            soft = r.seedling_softer if seedling else 0.0
            kill = r.kill_soft + (r.kill_hard - r.kill_soft) * hard + soft
            if r.buds_below > 0.0 and grown < BUDS_BELOW_SHARE * r.full:
                kill = r.kill_hard  # frozen off sooner, but the buds below make new stems
            autumn = day_length[day] < day_length[day - 1]
            if r.tender > 0.0:
                cold = place[DEGREES, day] < r.still or place[MEAN, day] < CHILL_C
                chilled = chilled + 1.0 if cold else max(0.0, chilled - 1.0)
                if chilled > CHILLED_D:
                    end = NOT_READY if autumn else PLANT_FROZEN
                    deciding, hour = day, int(place[HOUR_MIN, day])
                    break
            hard = _harden(hard, place[MEAN, day])
            bulb_sleeps = r.bulb_cold_h > 0.0 and grown < 0.3 * r.full  # its leaves come again from below
            if place[LEAF_MIN, day] < kill + 6.0 * r.spread and not bulb_sleeps:
                lives_cold *= 1.0 - _chance((place[LEAF_MIN, day] - kill) / r.spread)
                if 1.0 - lives_cold > u:
                    end, deciding, hour = (
                        (SEEDLING_FROZEN if seedling else PLANT_FROZEN),
                        day,
                        int(place[HOUR_MIN, day]),
                    )
                    if r.tender > 0.0 and autumn:
                        end = NOT_READY  # autumn's frost ends every tender plant: this one was too slow for it
                    break
            top = place[LEAF_MAX, day]
            heat = max(0.0, heat - 0.03) + 0.05 * max(0.0, top - r.injury)
            if top > r.lethal - 6.0 * HEAT_SPREAD_DK:
                lives_heat *= 1.0 - _chance((r.lethal - top) / HEAT_SPREAD_DK)
            if heat > 0.6 + 0.8 * u or 1.0 - lives_heat > u:
                end, deciding, hour = COOKED, day, int(place[HOUR_MAX, day])
                break
            if seedling and place[MEAN, day] > 8.0:
                dark = dark + 1.0 if light < STARVED_SHARE * r.light_least else max(0.0, dark - 1.0)
                if dark > STARVED_DAYS:
                    end, deciding, hour = STARVED, day, 12
                    break
            # --- running to seed
            if grown >= r.bolt_gate * r.full or r.bulb_cold_h > 0.0:
                cold_h += place[COLD_H, day]
            if cold_h >= r.bolt_cold_h and grown >= BOLT_SIZE * r.full:
                if r.bolt_at_once > 0.0:
                    bolt = 1.0
                elif day_length[day] > r.bolt_day_h and place[MEAN, day] > r.bolt_warm:
                    bolt += r.bolt_pace * (day_length[day] - r.bolt_day_h + 1.0) * (place[MEAN, day] - r.bolt_warm)
            if bolt >= 1.0:
                end, deciding, hour = BOLTED, day, 12
                break
            # --- harvest
            if r.fruit > 0.0 and grown >= 0.6 * r.full:  # what ripens now was set over the last weeks
                sets = _setting(r, place[NIGHT, day], place[DAY_MAX, day], place[MEAN, day], light)
                if place[LEAF_MIN, day] < r.bloom_kill:  # the flowers go, the plant flowers again
                    sets, fruit_days = 0.0, 0.0
                flowered += 1.0
                fruit_days += sets
                setting += (sets - setting) / min(flowered, r.ripen)
            if in_cell:
                continue
            if full_on < 0 and grown >= r.full:
                full_on = day
            if marks[s, 2] < 0:
                if r.bulb_day_h > 0.0 and cold_h >= r.bulb_cold_h and grown >= r.bulb_size:
                    if day_length[day] >= swell_h:
                        bulb += growth
                    elif day_length[day] < swell_h - BULB_BACK_H:
                        bulb = 0.0
                filled = r.bulb_day_h <= 0.0 or bulb >= r.bulb_need
                enough = goal if r.bulb_day_h <= 0.0 or day_length[day] >= swell_h else r.ripe
                if grown >= enough and filled and (r.fruit <= 0.0 or fruit_days >= SET_DAYS):
                    marks[s, 2] = marks[s, 3] = day
                    picks, size = 1, min(grown / r.full, 1.0)
                elif r.fruit > 0.0 and grown > r.worn_out:
                    end, deciding, hour = NO_FRUIT, day, 14
                    break
            elif r.cuts > 1.0:
                ripening += growth * (setting if r.fruit > 0.0 else 1.0)
                if ripening >= r.regrow:
                    picks, ripening = picks + 1, min(ripening - r.regrow, r.regrow)
                    marks[s, 3] = day
                    if picks >= r.most_cuts:
                        break
                elif r.fruit > 0.0 and (grown > r.worn_out or day - marks[s, 3] > PULLED_D):
                    break
            else:
                marks[s, 3] = day
                if grown > (1.0 + HOLD_SHARE) * r.full:
                    break
        if marks[s, 2] >= 0:
            outcome[s] = HARVESTED
            share[s] = picks / r.cuts if r.cuts > 1.0 else size
        else:
            outcome[s] = end
            marks[s, 4], marks[s, 5] = (deciding, hour) if deciding >= 0 else (day, 12)


_fates_fast = njit(cache=True, error_model="numpy", nogil=True)(_fates)


def fates(
    rule: FateRule, nursery: F32 | None, bed: F32, day_length_h: F32, safe: NDArray[np.uint8], starts: I32, tough: F64
) -> Fates:
    """Follow sowings on day indices `starts` (n,), each with its year's toughness `tough` (n,), to their ends.

    nursery, bed : crop_days of where it is raised (None: sown where it stays) and where it grows;  safe (n_days,): 1 on days on which
    it may be set out
    """
    n = len(starts)
    outcome, marks, share = np.empty(n, np.int32), np.empty((n, 6), np.int32), np.empty(n, np.float32)
    raised = nursery is not None
    _fates_fast(
        rule,
        raised,
        nursery if nursery is not None else bed,
        bed,
        day_length_h,
        safe,
        starts,
        tough,
        outcome,
        marks,
        share,
    )
    emerged, set_out, first, last, deciding, hour = (np.ascontiguousarray(marks[:, j]) for j in range(6))
    return Fates(outcome, emerged, set_out, first, last, deciding, hour, share)
