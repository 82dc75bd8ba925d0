"""The inner loop of the search for a better plan, compiled: steps, and taking part of a plan out and filling it up again.

Everything that a step needs is brought up to date instead of counted anew: servings by crop, by want, worth by year, what each limit
has left.  `Terms` are the worth's parts in the order of the options; polish.py makes them and holds the same worth in plain arrays.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit

__all__ = ["State", "Terms", "climbed", "fresh_copy", "fresh_state", "searched"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

LEAST_GAIN = 1e-6
SLACK = 1e-7
WHOLE_CROP = 0.2
"""How often a whole crop is taken out where money for packets is short."""


class Terms(NamedTuple):
    """What a search is told.  n options, y years, t periods, c crops, w wants, r rows.

    amount (n, y, t), start, end (n,): servings of a block and the periods in which it has any;  crop (n,), want (c,)
    caps, half, beyond (w, t), value (w, 3, t): what counts and what it is worth;  risk, tail : weight of the worst share of the years
    cost, kept (n,) : of a block, and blocks of the earlier plan;  kept_worth : of each of them
    season (c,) : quarter in which a new kind counts, -1: not new;  new_worth, most_new
    row_at (n + 1,), row, factor : limits that an option's block uses;  high, low (r,);  most, least (n,) : blocks
    seeds, bought (n,) : seeds a block, and whether it is bought;  on_hand, packet (c,);  price, budget : of packets
    bed, from_week, to_week (n,) : where it grows and when, for what is taken out together
    """

    amount: F64
    start: I64
    end: I64
    crop: I64
    want: I64
    caps: F64
    half: F64
    beyond: F64
    value: F64
    risk: float
    tail: float
    cost: F64
    kept: F64
    kept_worth: float
    season: I64
    new_worth: float
    most_new: int
    row_at: I64
    row: I64
    factor: F64
    high: F64
    low: F64
    most: F64
    least: F64
    seeds: F64
    on_hand: F64
    packet: F64
    price: float
    budget: float
    bed: I64
    from_week: I64
    to_week: I64


class State(NamedTuple):
    """A plan with everything that follows from it: blocks, crops (c, y, t), wants (w, y, t), year (y,), use (r,), held (c,): blocks of a crop, seed (c,), new (4,)"""

    blocks: F64
    crops: F64
    wants: F64
    year: F64
    use: F64
    held: F64
    seed: F64
    new: F64


@njit(cache=True)
def _worth_of(total: float, half: float, beyond: float, first: float, second: float, third: float) -> float:
    """Worth of so many servings in one period of one want."""
    if total <= half:
        return total * first
    worth = half * first
    if total <= 2.0 * half:
        return worth + (total - half) * second
    return worth + half * second + min(total - 2.0 * half, beyond) * third


@njit(cache=True)
def _combined(year: F64, change: F64, k: Terms) -> float:
    """Mean and mean of the worst years, weighed by the risk."""
    n = len(year)
    values = np.sort(year + change)
    worst, left = 0.0, k.tail * n
    for value in values:
        weight = min(1.0, left)
        if weight <= 0.0:
            break
        worst += weight * value
        left -= weight
    return (1.0 - k.risk) * values.mean() + k.risk * worst / (k.tail * n)


@njit(cache=True)
def _change(k: Terms, s: State, j: int, sign: float, out: F64) -> None:
    """What one block more or less of j changes in each year's worth."""
    c = k.crop[j]
    w = k.want[c]
    for y in range(len(out)):
        total = 0.0
        for t in range(k.start[j], k.end[j]):
            amount = k.amount[j, y, t]
            if amount == 0.0:
                continue
            before = s.crops[c, y, t]
            cap = k.caps[w, t]
            extra = min(before + sign * amount, cap) - min(before, cap)
            if extra != 0.0:
                have = s.wants[w, y, t]
                total += _worth_of(
                    have + extra, k.half[w, t], k.beyond[w, t], k.value[w, 0, t], k.value[w, 1, t], k.value[w, 2, t]
                ) - _worth_of(have, k.half[w, t], k.beyond[w, t], k.value[w, 0, t], k.value[w, 1, t], k.value[w, 2, t])
        out[y] = total


@njit(cache=True)
def _packets(seed: float, on_hand: float, packet: float) -> float:
    return np.ceil(max(seed - on_hand, 0.0) / packet - 1e-9)


@njit(cache=True)
def _spent(k: Terms, s: State) -> float:
    total = 0.0
    for c in range(len(s.seed)):
        total += _packets(s.seed[c], k.on_hand[c], k.packet[c])
    return total * k.price


@njit(cache=True)
def _fits(k: Terms, s: State, j: int, spent: float) -> bool:
    """Whether a block more of j keeps all limits."""
    if s.blocks[j] >= k.most[j]:
        return False
    for i in range(k.row_at[j], k.row_at[j + 1]):
        r = k.row[i]
        if s.use[r] + k.factor[i] > k.high[r] + SLACK:
            return False
    if k.budget < np.inf:
        c = k.crop[j]
        more = _packets(s.seed[c] + k.seeds[j], k.on_hand[c], k.packet[c]) - _packets(
            s.seed[c], k.on_hand[c], k.packet[c]
        )
        if spent + more * k.price > k.budget + 1e-9:
            return False
    return True


@njit(cache=True)
def _may_go(k: Terms, s: State, j: int) -> bool:
    """Whether a block less of j keeps all limits."""
    if s.blocks[j] - 1.0 < k.least[j]:
        return False
    for i in range(k.row_at[j], k.row_at[j + 1]):
        r = k.row[i]
        if s.use[r] - k.factor[i] < k.low[r] - SLACK:
            return False
    return True


@njit(cache=True)
def _keeps(k: Terms, s: State, gone: int, j: int) -> bool:
    """Whether one block more of j gives the limits what the block that went gave them, as far as they need it."""
    for i in range(k.row_at[gone], k.row_at[gone + 1]):
        r, more = k.row[i], 0.0
        for n in range(k.row_at[j], k.row_at[j + 1]):
            if k.row[n] == r:
                more = k.factor[n]
        if s.use[r] + more < k.low[r] - SLACK:
            return False
    return True


@njit(cache=True)
def _apart(k: Terms, s: State, j: int, sign: float) -> float:
    """Change by what does not depend on weather: cost, kept blocks, new kinds."""
    c = k.crop[j]
    out = -sign * k.cost[j]
    if sign > 0.0 and s.blocks[j] < k.kept[j]:
        out += k.kept_worth
    if sign < 0.0 and s.blocks[j] <= k.kept[j]:
        out -= k.kept_worth
    if (sign > 0.0 and s.held[c] == 0.0) or (sign < 0.0 and s.held[c] == 1.0):
        q = k.season[c]
        if q >= 0:
            if sign > 0.0 and s.new[q] < k.most_new:
                out += k.new_worth
            if sign < 0.0 and s.new[q] <= k.most_new:
                out -= k.new_worth
    return out


@njit(cache=True)
def _put(k: Terms, s: State, j: int, sign: float) -> None:
    """A block of j more or less."""
    change = np.zeros(len(s.year))
    _change(k, s, j, sign, change)
    s.year[:] += change
    c = k.crop[j]
    w = k.want[c]
    for y in range(len(s.year)):
        for t in range(k.start[j], k.end[j]):
            before = s.crops[c, y, t]
            after = before + sign * k.amount[j, y, t]
            s.crops[c, y, t] = after
            s.wants[w, y, t] += min(after, k.caps[w, t]) - min(before, k.caps[w, t])
    for i in range(k.row_at[j], k.row_at[j + 1]):
        s.use[k.row[i]] += sign * k.factor[i]
    had = s.held[c]
    s.blocks[j] += sign
    s.held[c] += sign
    s.seed[c] += sign * k.seeds[j]
    if k.season[c] >= 0 and (had == 0.0 or s.held[c] == 0.0):
        s.new[k.season[c]] += sign


@njit(cache=True)
def _best(k: Terms, s: State, apart_from: int, noise: float, state: I64, crop: int = -1) -> tuple[int, float]:
    """The option of which one block more helps most, and by how much; -1: none.

    noise : how far luck may shift what helps most;  crop : only options of it, -1: all
    """
    change = np.zeros(len(s.year))
    base = _combined(s.year, change, k)
    spent = _spent(k, s) if k.budget < np.inf else 0.0
    best, most, gain = -1, 0.0, 0.0
    for j in range(len(s.blocks)):
        if j == apart_from or (crop >= 0 and k.crop[j] != crop) or not _fits(k, s, j, spent):
            continue
        _change(k, s, j, 1.0, change)
        found = _combined(s.year, change, k) - base + _apart(k, s, j, 1.0)
        if found <= LEAST_GAIN:
            continue
        looks = found * (1.0 + noise * (_luck(state) - 0.5)) if noise > 0.0 else found
        if looks > most:
            best, most, gain = j, looks, found
    return best, gain


@njit(cache=True)
def _luck(state: I64) -> float:
    """A number from 0 to 1 of a sequence that is the same each time (Lehmer's, with Park and Miller's factor)."""
    state[0] = state[0] * 48271 % 2147483647
    return state[0] / 2147483647.0


@njit(cache=True)
def _removal(k: Terms, s: State, j: int) -> float:
    change = np.zeros(len(s.year))
    base = _combined(s.year, change, k)
    _change(k, s, j, -1.0, change)
    return _combined(s.year, change, k) - base + _apart(k, s, j, -1.0)


@njit(cache=True)
def _climb(k: Terms, s: State, state: I64) -> float:
    """Steps until none helps; what they brought."""
    total = 0.0
    while True:
        gained = 0.0
        while True:
            j, gain = _best(k, s, -1, 0.0, state)
            if j < 0:
                break
            _put(k, s, j, 1.0)
            gained += gain
        for i in range(len(s.blocks)):
            if s.blocks[i] <= k.least[i] or s.blocks[i] <= 0.0:
                continue
            free = _may_go(k, s, i)  # else a limit asks for it, and only another of its crop can take its place
            lost = _removal(k, s, i)
            _put(k, s, i, -1.0)
            j, gain = _best(k, s, i, 0.0, state, -1 if free else k.crop[i])
            if j >= 0 and gain + lost > LEAST_GAIN and (free or _keeps(k, s, i, j)):
                _put(k, s, j, 1.0)
                gained += gain + lost
            elif free and lost > LEAST_GAIN:
                gained += lost
            else:
                _put(k, s, i, 1.0)
        total += gained
        if gained <= LEAST_GAIN:
            return total


@njit(cache=True)
def _copy(source: State, to: State) -> None:
    to.blocks[:] = source.blocks
    to.crops[:] = source.crops
    to.wants[:] = source.wants
    to.year[:] = source.year
    to.use[:] = source.use
    to.held[:] = source.held
    to.seed[:] = source.seed
    to.new[:] = source.new


@njit(cache=True)
def _near(k: Terms, i: int, j: int) -> bool:
    """Whether two sowings stand in each other's way or feed the same want."""
    together = k.from_week[i] <= k.to_week[j] + 2 and k.from_week[j] <= k.to_week[i] + 2
    if k.bed[i] == k.bed[j] and together:
        return True
    return k.want[k.crop[i]] == k.want[k.crop[j]] and k.start[i] < k.end[j] and k.start[j] < k.end[i]


@njit(cache=True)
def _take_out_crop(k: Terms, s: State, crop: int) -> float:
    """All of a crop goes, so that its packets pay for another; what that costs."""
    lost = 0.0
    for j in range(len(s.blocks)):
        while k.crop[j] == crop and s.blocks[j] > 0.0 and _may_go(k, s, j):
            lost += _removal(k, s, j)
            _put(k, s, j, -1.0)
    return lost


@njit(cache=True)
def _take_out(k: Terms, s: State, state: I64) -> float:
    """A few sowings that lie near each other go; what that costs."""
    n, lost = len(s.blocks), 0.0
    active = np.flatnonzero(s.blocks > 0.0)
    if active.size == 0:
        return 0.0
    first = active[int(_luck(state) * active.size)]
    if k.budget < np.inf and _luck(state) < WHOLE_CROP:
        return _take_out_crop(k, s, k.crop[first])
    many = 2 + int(_luck(state) * 5.0)
    order = active.copy()
    for i in range(order.size - 1, 0, -1):
        other = int(_luck(state) * (i + 1))
        order[i], order[other] = order[other], order[i]
    out = 0
    for i in range(-1, order.size):
        j = first if i < 0 else order[i]
        while out < many and j < n and s.blocks[j] > 0.0 and _near(k, first, j) and _may_go(k, s, j):
            lost += _removal(k, s, j)
            _put(k, s, j, -1.0)
            out += 1
    return lost


@njit(cache=True, nogil=True)
def searched(
    k: Terms, s: State, best: State, total: float, record: float, rounds: int, slack: float, seed: int
) -> tuple[float, float]:
    """So many times a part of the plan is taken out and filled up again; kept where it helps, or where it loses less than `slack`.

    s : the plan gone on from, of worth `total`;  best : the best one so far, of worth `record`; both are changed in place.  Returns both worths.
    """
    state = np.array([seed], np.int64)
    before = fresh_copy(s)
    for _ in range(rounds):
        _copy(s, before)
        change = _take_out(k, s, state)
        while True:
            j, gain = _best(k, s, -1, 0.6, state)
            if j < 0:
                break
            _put(k, s, j, 1.0)
            change += gain
        if total + change > record - slack:
            total += change
            if total > record + LEAST_GAIN:
                record = total
                _copy(s, best)
        else:
            _copy(before, s)
    return total, record


@njit(cache=True)
def fresh_copy(s: State) -> State:
    """A plan of its own with the same contents."""
    return State(
        s.blocks.copy(), s.crops.copy(), s.wants.copy(), s.year.copy(), s.use.copy(), s.held.copy(), s.seed.copy(), s.new.copy()
    )  # fmt: skip


@njit(cache=True, nogil=True)
def climbed(k: Terms, s: State) -> float:
    """Steps until none helps, in place; what they brought."""
    return _climb(k, s, np.array([1], np.int64))


def fresh_state(k: Any, blocks: F64) -> State:
    """The state of a plan, counted from nothing."""
    years, periods = k.amount.shape[1:]
    crops, wants = len(k.want), len(k.half)
    state = State(
        np.zeros(len(blocks)), np.zeros((crops, years, periods)), np.zeros((wants, years, periods)), np.zeros(years),
        np.zeros(len(k.high)), np.zeros(crops), np.zeros(crops), np.zeros(4),
    )  # fmt: skip
    for j in np.flatnonzero(blocks):
        for _ in range(round(blocks[j])):
            _put(k, state, int(j), 1.0)
    return state
