"""The choice over a year as a mixed-integer programme: which sowings, how many blocks of each, over sampled years at once.

Gain: servings that meet a want in a fortnight, the first half of what is wanted counting more than the second, so that many weeks with
something beat few with plenty; the mean over the years and the mean of the worst fifth of them (conditional value at risk), weighed by the
family's `risk`.  Limits: beds and trays by week, minutes by week, rotation by family, seed money, decided sowings.
Equations: docs/model/year.md.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from underglass.crop.types import Crop
from underglass.plan.candidates import SOWING_WEEKS, WEEKS, Candidate
from underglass.plan.programme import INFINITE, Programme
from underglass.plan.wishes import Want, Wishes
from underglass.plan.work import figures, plants_on, seeds_to_sow
from underglass.plan.years import choosing

__all__ = ["PERIODS", "Moment", "Option", "Task", "build", "minutes_by_week"]

F64 = NDArray[np.float64]

PERIODS = np.concatenate([np.arange(0, SOWING_WEEKS, 2), np.arange(SOWING_WEEKS, WEEKS + 1, 4)])
"""First weeks of the periods in which servings are set against wants: fortnights, after the year four weeks."""

SCENARIOS = 10
TAIL = 0.2
FIRST_HALF, SECOND_HALF, BEYOND = 1.4, 0.6, 0.25
LATER = 0.5
"""What is eaten after the year counts half: next year's sowings will share that time."""

ONE_CROP_SHARE = 0.6
"""Of a want that three or more crops can meet, one crop counts for so much at most: nobody wants one salad all year."""

KEPT_SERVINGS = 10.0
"""What it is worth that a block of an earlier plan stays: a family that has read its plan wants reasons for another."""

VARIETY_FROM = 3
BEYOND_TARGETS = 2.0
"""'As much as fits' goes on to be worth something for twice the target more."""

USUAL_SERVINGS_A_CROP = 4.0
MOST_BLOCKS = 8
ROTATED = ("Brassicaceae", "Solanaceae", "Cucurbitaceae", "Fabaceae", "Amaryllidaceae", "Apiaceae")
"""Families with diseases that stay in the ground; lettuce and spinach kin are left out (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """A candidate as the family would sow it.  block_m2 : area of one block;  seed_share : of fresh seed's germination, 0-1;  standing : in the ground already"""

    candidate: Candidate
    crop: Crop
    block_m2: float
    seed_share: float = 1.0
    standing: bool = False

    @property
    def plants(self) -> int:
        """Plants in one block."""
        return plants_on(self.crop, self.block_m2)

    def seeds(self, blocks: int = 1) -> int:
        """Seeds for so many blocks."""
        in_cells = self.candidate.route.raised_in is not None
        return seeds_to_sow(self.crop, plants_on(self.crop, self.block_m2 * blocks), self.seed_share, in_cells=in_cells)


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """All that the programme is made of.

    on : first day;  area_m2 : by shelter;  tray_m2 : room for cells by shelter that raises (0 for one that is bed too: its bed gives room)
    on_hand : seeds on hand by crop id;  pinned : option numbers that may stand for each pin;  kept : blocks of an earlier plan by option
    news : crops that the family does not know yet, and the quarter of the year (0-3) in which each may be tried
    month_mean_c : monthly means of the air outside that the options were made with
    each : ids of crops of which something must be sown;  covered : names of the shelters that are no open ground
    """

    on: np.datetime64
    options: tuple[Option, ...]
    wants: tuple[Want, ...]
    wishes: Wishes
    area_m2: Mapping[str, float]
    tray_m2: Mapping[str, float]
    on_hand: Mapping[str, int]
    pinned: tuple[tuple[int, ...], ...] = ()
    kept: tuple[tuple[int, int], ...] = ()
    news: Mapping[str, int] = field(default_factory=dict)
    month_mean_c: tuple[float, ...] = ()
    each: tuple[str, ...] = ()
    covered: frozenset[str] = frozenset()

    def week(self, day: np.datetime64) -> int:
        """Week of the plan that a day lies in."""
        return int((day - self.on).astype(int)) // 7

    def bed_weeks(self, c: Candidate) -> tuple[int, int]:
        """Weeks in the bed, [from, to); half weeks at the end are given to the next crop."""
        start = self.week(c.bed_from)
        return max(start, 0), max(self.week(c.bed_to + 3), start + 1)


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """A want in a period t of a sampled year s.  there : by crop the options that bring something then, and servings of a block of each"""

    want: Want
    s: int
    t: int
    there: Mapping[str, tuple[NDArray[np.int64], F64]]


Meet = Callable[[Programme, Moment], NDArray[np.int64]]


def target(want: Want) -> float:
    """Servings a week that a want aims at."""
    return want.servings if want.servings is not None else USUAL_SERVINGS_A_CROP * len(want.crops)


def minutes_by_week(task: Task, option: Option) -> F64:
    """Work on one block in each week [min], shape (WEEKS,)."""
    c, m = option.candidate, figures()["minutes"]
    out = np.zeros(WEEKS)
    start, end = task.bed_weeks(c)
    out[start:end] += m["tend_m2_week"] * option.block_m2
    out += m["pick_serving"] * c.servings.mean(axis=0) * option.block_m2
    if not option.standing:
        sowing = m["raise_plant"] * option.plants if c.route.raised_in else m["sow_m2"] * option.block_m2
        out[task.week(c.sow)] += m["sowing"] + sowing
        out[task.week(c.sow) : task.week(c.tray_to)] += (
            m["water_plant_week"] * option.plants if c.route.raised_in else 0.0
        )
        if c.set_out is not None and task.week(c.set_out.p50) < WEEKS:
            out[task.week(c.set_out.p50)] += m["set_out_plant"] * option.plants
    return out


def sample_years(n_years: int) -> NDArray[np.int64]:
    """The years that the programme looks at: evenly out of those that choose; the others only judge the plan."""
    years = choosing(n_years)
    return np.asarray(years[np.unique(np.linspace(0, len(years) - 1, min(SCENARIOS, len(years))).round().astype(int))])


def away_weeks(task: Task) -> NDArray[np.bool_]:
    """Weeks in which nobody is home, shape (WEEKS,)."""
    first_days = task.on + 7 * np.arange(WEEKS)
    gone = np.zeros(WEEKS, bool)
    for start, end in task.wishes.away:
        gone |= (first_days + 6 >= start) & (first_days <= end)
    return gone


def build(task: Task, *, without: frozenset[str] = frozenset(), meet: Meet | None = None) -> Programme:
    """The programme; the first columns are the blocks of each option.

    without : kinds of rows to leave out ('area', 'trays', 'minutes', 'rotation', 'budget', 'pin 0', 'each kale' …)
    meet : adds the rows of one want in one period of one year, and columns, one for each of its steps or none, whose numbers it gives back
    """
    p = Programme()
    most = np.array([most_blocks(task, o) for o in task.options], float)
    p.add(len(task.options), -block_costs(task), 0.0, most, whole=True)
    for j, option in enumerate(task.options):
        if option.standing:
            p.low[j] = p.high[j] = 1.0
    values = _servings(task, p, meet or _meet)
    _tail(p, values, task.wishes.risk)
    for name, rows in (
        ("area", _area),
        ("trays", _trays),
        ("minutes", _minutes),
        ("sowings", _sowings),
        ("rotation", _rotation),
        ("budget", _budget),
    ):
        if name not in without:
            rows(task, p)
    _let_stand(task, p)
    for i, numbers in enumerate(task.pinned):
        if f"pin {i}" not in without:
            _pin(task, p, i, numbers)
    for j, blocks in task.kept:
        bonus = p.add(1, KEPT_SERVINGS, 0.0, float(blocks))
        p.row(("kept", j), [int(bonus[0]), j], [1.0, -1.0], -INFINITE, 0.0)
    _each(task, p, without)
    _new(task, p)
    return p


def _let_stand(task: Task, p: Programme) -> None:
    """No limit is narrower than what stands already makes of it: a bed fuller than it is large takes nothing more, and forbids no plan."""
    standing = np.array([o.standing for o in task.options])
    for k, (columns, factors) in enumerate(p.rows):
        if columns.max() < len(standing) and standing[columns].any():
            p.row_high[k] = max(p.row_high[k], float(factors[standing[columns]].sum()))


def block_costs(task: Task) -> F64:
    """What a block of each option must bring to be worth having it in mind, and its work, in servings."""
    attention = figures()["attention"]
    each = float(attention["minute_servings"])
    return np.array([
        (0.0 if o.standing else float(attention["sowing_servings"])) + each * float(minutes_by_week(task, o).sum())
        for o in task.options
    ])  # fmt: skip


def sowings_cap(task: Task) -> int:
    """Sowings in a week at most."""
    said = task.wishes.sowings_a_week
    return int(figures()["attention"]["sowings_a_week"]) if said is None else said


def sowing_week(task: Task, j: int) -> int:
    """Week in which an option is sown, -1 for what stands already."""
    option = task.options[j]
    return -1 if option.standing else task.week(option.candidate.sow)


def _sowings(task: Task, p: Programme) -> None:
    """Blocks sown in each week.  A sowing of several blocks counts as several: it is that much more to do in one afternoon."""
    weeks = np.array([sowing_week(task, j) for j in range(len(task.options))])
    for w in range(SOWING_WEEKS):
        now = np.flatnonzero(weeks == w)
        if now.size:
            p.row(("sowings", w), now, np.ones(len(now)), -INFINITE, float(sowings_cap(task)))


def each_crops(task: Task) -> list[str]:
    """Crops that should be grown at least once, as far as any sowing of them is there."""
    there = {o.crop.id for o in task.options}
    return [c for w in task.wants if w.each for c in w.crops if c in there]


def _each(task: Task, p: Programme, without: frozenset[str]) -> None:
    """A block at least of each crop that must be grown, and a packet where there is no seed."""
    packets = first_packets(task, p)
    for crop in task.each:
        if f"each {crop}" not in without:
            js = [j for j, o in enumerate(task.options) if o.crop.id == crop]
            p.row(("each", crop), js, [1.0] * len(js), 1.0, INFINITE)
            if crop in packets:
                p.low[packets[crop]] = 1.0


def _new(task: Task, p: Programme) -> None:
    """So many new kinds in each quarter are worth something."""
    worth, by_season = float(figures()["attention"]["new_servings"]), dict[int, list[int]]()
    packets = first_packets(task, p)
    for crop, season in task.news.items():
        js = [j for j, o in enumerate(task.options) if o.crop.id == crop]
        if js:
            column = int(p.add(1, worth, 0.0, 1.0)[0])
            p.row(("new", crop), [column, *js], [1.0, *[-1.0] * len(js)], -INFINITE, 0.0)
            if crop in packets:
                p.row(("new packet", crop), [column, packets[crop]], [1.0, -1.0], -INFINITE, 0.0)
            by_season.setdefault(season, []).append(column)
    for season, columns in by_season.items():
        p.row(("new in", season), columns, [1.0] * len(columns), -INFINITE, float(task.wishes.new_a_season))


def most_blocks(task: Task, option: Option) -> int:
    """Blocks of an option at most."""
    if option.standing:
        return 1
    return max(1, min(MOST_BLOCKS, int(task.area_m2[option.candidate.route.grown_in] / option.block_m2 + 1e-9)))


def amounts(task: Task) -> F64:
    """Servings of one block of each option in each sampled year and period, nothing while nobody is home.  Shape (options, years, periods)"""
    years = sample_years(task.options[0].candidate.counted.shape[0])
    home = (~away_weeks(task)).astype(float)
    return np.stack(
        [np.add.reduceat(o.candidate.servings[years] * home * o.block_m2, PERIODS[:-1], axis=1) for o in task.options]
    )


def crop_cap(want: Want) -> float:
    """Servings a week of one crop that count towards a want."""
    share = ONE_CROP_SHARE if len(want.crops) >= VARIETY_FROM else 1.0
    return share * target(want) * (1.0 if want.servings is not None else 1.0 + BEYOND_TARGETS)


def steps(want: Want) -> list[tuple[float, float]]:
    """(worth of a serving, servings a week that are worth it): first half of what is wanted, second half, and beyond for 'as much as fits'."""
    half = target(want) / 2.0
    found = [(FIRST_HALF * want.weight, half), (SECOND_HALF * want.weight, half)]
    return found if want.servings is not None else [*found, (BEYOND * want.weight, BEYOND_TARGETS * 2.0 * half)]


def _servings(task: Task, p: Programme, meet: Meet) -> list[tuple[NDArray[np.int64], F64]]:
    """Columns and rows of what is eaten; for each sampled year the columns that count and what each is worth."""
    if not task.options:
        return []
    amount = amounts(task)
    worth: list[tuple[list[int], list[float]]] = [([], []) for _ in range(amount.shape[1])]
    for want in task.wants:
        by_crop = {c: np.array([j for j, o in enumerate(task.options) if o.crop.id == c], np.int64) for c in want.crops}
        growing = {c: _uses(js, amount[js]) for c, js in by_crop.items() if js.size}
        for s, t in sorted({moment for uses in growing.values() for moment in uses}):
            there = {c: uses[s, t] for c, uses in growing.items() if (s, t) in uses}
            columns = meet(p, Moment(want, s, t, there)).tolist()
            worth[s][0].extend(columns)
            worth[s][1].extend(value * later(t) for value, _ in steps(want)[: len(columns)])
    return [(np.array(columns, np.int64), np.array(gains)) for columns, gains in worth]


def _uses(js: NDArray[np.int64], amount: F64) -> dict[tuple[int, int], tuple[NDArray[np.int64], F64]]:
    """Options and their servings for each (year, period) in which there are any.  amount (options, years, periods)"""
    by_moment = amount.transpose(1, 2, 0)
    s, t, k = np.nonzero(by_moment)
    if not s.size:
        return {}
    starts = np.flatnonzero(np.diff(s * amount.shape[2] + t, prepend=-1))
    ends = np.append(starts[1:], len(s))
    values = by_moment[s, t, k]
    return {(int(s[i]), int(t[i])): (js[k[i:e]], values[i:e]) for i, e in zip(starts, ends, strict=True)}


def _meet(p: Programme, moment: Moment) -> NDArray[np.int64]:
    """What counts is at most what there is, and of each crop at most its cap."""
    want, s, t, there = moment.want, moment.s, moment.t, moment.there
    weeks = weeks_of(t)
    meets = p.add(len(steps(want)), 0.0, 0.0, weeks * np.array([most for _, most in steps(want)]))
    ones = np.ones(len(meets))
    if len(want.crops) < VARIETY_FROM:
        js, values = (np.concatenate(parts) for parts in zip(*there.values(), strict=True))
        most = np.minimum(values, weeks * sum(most for _, most in steps(want)))
        p.row(("want", want.label, s, t), np.concatenate([meets, js]), np.concatenate([ones, -most]), -INFINITE, 0.0)
    else:
        cap = weeks * crop_cap(want)
        parts = p.add(len(there), 0.0, 0.0, cap)
        p.row(
            ("want", want.label, s, t),
            np.concatenate([meets, parts]),
            np.concatenate([ones, -np.ones(len(parts))]),
            -INFINITE,
            0.0,
        )
        for (c, (js, values)), part in zip(there.items(), parts, strict=True):
            most = np.minimum(values, cap)
            p.row(("crop", c, s, t), np.concatenate([[part], js]), np.concatenate([[1.0], -most]), -INFINITE, 0.0)
    _first_half(p, moment, int(meets[0]))
    return meets


def _first_half(p: Programme, moment: Moment, first: int) -> None:
    """The first half of a want is met at most by what each whole block adds to it.

    No plan of whole blocks is lost by it; plans of broken blocks, that take just the slice that is worth most, are.  As no block counts
    for more than a row's bound in the rows above, it only brings the relaxation nearer to what whole blocks can reach.
    """
    want, s, t, there = moment.want, moment.s, moment.t, moment.there
    half = weeks_of(t) * target(want) / 2.0
    js, values = (np.concatenate(parts) for parts in zip(*there.values(), strict=True))
    if (values > half).any():
        p.row(
            ("first half", want.label, s, t),
            np.concatenate([[first], js]),
            np.concatenate([[1.0], -np.minimum(values, half)]),
            -INFINITE,
            0.0,
        )


def later(period: int) -> float:
    """Worth of a period: what is eaten after the year counts less."""
    return LATER if PERIODS[period] >= SOWING_WEEKS else 1.0


def weeks_of(period: int) -> float:
    """Length of a period [week]."""
    return float(PERIODS[period + 1] - PERIODS[period])


def _tail(p: Programme, values: Sequence[tuple[NDArray[np.int64], F64]], risk: float) -> None:
    """(1 - risk) mean + risk CVaR: eta less the mean shortfall below it over the worst `TAIL` of the years (Rockafellar & Uryasev 2000)."""
    n = len(values)
    for columns, gains in values:
        for column, gain in zip(columns, gains, strict=True):
            p.gain[int(column)] = (1.0 - risk) * gain / n
    if n == 0 or risk <= 0.0:
        return
    eta = int(p.add(1, risk, -INFINITE)[0])
    short = p.add(n, -risk / (TAIL * n))
    for s, (columns, gains) in enumerate(values):
        p.row(("tail", s), [*columns, int(short[s]), eta], [*gains, 1.0, -1.0], 0.0, INFINITE)


def _by_week(name: str, place: str, p: Programme, uses: Sequence[tuple[int, int, int, float]], room: float) -> None:
    """Rows that keep the sum of what options use in each week within the room.  uses : (option, from week, to week, each)"""
    before: tuple[int, ...] = ()
    for w in range(WEEKS):
        now = [(j, each) for j, start, end, each in uses if start <= w < end]
        numbers = tuple(j for j, _ in now)
        if now and numbers != before:
            p.row((name, place, w), numbers, [each for _, each in now], -INFINITE, room)
        before = numbers


def _area(task: Task, p: Programme) -> None:
    for bed, room in task.area_m2.items():
        uses = [
            (j, *task.bed_weeks(o.candidate), o.block_m2)
            for j, o in enumerate(task.options)
            if o.candidate.route.grown_in == bed
        ]
        if bed not in task.tray_m2:
            uses += _tray_uses(task, bed)
        _by_week("area", bed, p, sorted(uses), room)


def _tray_uses(task: Task, nursery: str) -> list[tuple[int, int, int, float]]:
    cell = float(figures()["room"]["cell_m2"])
    return [
        (j, max(task.week(o.candidate.sow), 0), task.week(o.candidate.tray_to) + 1, o.plants * cell)
        for j, o in enumerate(task.options)
        if o.candidate.route.raised_in == nursery and not o.standing
    ]


def _trays(task: Task, p: Programme) -> None:
    for nursery, room in task.tray_m2.items():
        _by_week("trays", nursery, p, _tray_uses(task, nursery), room)


def _minutes(task: Task, p: Programme) -> None:
    limit = task.wishes.minutes_a_week
    if limit is None:
        return
    work = np.stack([minutes_by_week(task, o) for o in task.options])
    for w in range(SOWING_WEEKS):
        busy = np.flatnonzero(work[:, w] > 1e-9)
        if busy.size:
            p.row(("minutes", w), busy, work[busy, w], -INFINITE, limit)


def _rotation(task: Task, p: Programme) -> None:
    years = task.wishes.rotation_years
    if years < 1:
        return
    for bed, room in task.area_m2.items():
        for family in ROTATED:
            js = [
                j for j, o in enumerate(task.options) if o.candidate.route.grown_in == bed and o.crop.family == family
            ]
            if js:
                p.row(("rotation", bed, family), js, [task.options[j].block_m2 for j in js], -INFINITE, room / years)


def packet_price() -> float:
    """Middle price of a packet of seed."""
    seed = figures()["seed"]
    return float(seed["packet_low"] + seed["packet_high"]) / 2.0


def _budget(task: Task, p: Programme) -> None:
    """Packets to buy are whole; what is on hand is free."""
    if task.wishes.seed_budget is None:
        return
    crops = {o.crop.id: o.crop for o in task.options if not o.standing}
    packets = p.add(len(crops), 0.0, 0.0, 50.0, whole=True)
    for column, (crop_id, crop) in zip(packets, crops.items(), strict=True):
        js = [j for j, o in enumerate(task.options) if o.crop.id == crop_id and not o.standing]
        factors = [float(task.options[j].seeds()) for j in js]
        p.row(
            ("seed", crop_id),
            [*js, int(column)],
            [*factors, -float(crop.kitchen.packet_seeds)],
            -INFINITE,
            float(task.on_hand.get(crop_id, 0)),
        )
    p.row(("budget",), packets, [packet_price()] * len(crops), -INFINITE, task.wishes.seed_budget)
    p.groups["packets"] = packets


def first_packets(task: Task, p: Programme) -> dict[str, int]:
    """Column of the packets of each crop of which nothing can be sown before one is bought."""
    if "packets" not in p.groups:
        return {}
    least: dict[str, int] = {}
    for o in task.options:
        least[o.crop.id] = 0 if o.standing else min(least.get(o.crop.id, o.seeds()), o.seeds())
    bought = dict.fromkeys(o.crop.id for o in task.options if not o.standing)
    return {
        c: int(column)
        for c, column in zip(bought, p.groups["packets"], strict=True)
        if task.on_hand.get(c, 0) < least[c]
    }


def _pin(task: Task, p: Programme, i: int, numbers: Sequence[int]) -> None:
    pin = task.wishes.pins[i]
    if not numbers:
        p.row(("pin", i), [0], [0.0], 1.0, INFINITE)
        return
    area = pin.area_m2 or min(task.options[j].block_m2 for j in numbers)
    p.row(("pin", i), list(numbers), [task.options[j].block_m2 for j in numbers], min(area, sum(
        task.options[j].block_m2 * most_blocks(task, task.options[j]) for j in numbers
    )), INFINITE)  # fmt: skip
