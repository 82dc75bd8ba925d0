"""What thermometers showed, and what was learned from them.  Plain values, SI."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Estimate", "ProbeFit", "Readings", "Score", "Sunlit", "Tuned"]

Sunlit = Literal["shade", "sun", "unknown"]


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings of one kind by one probe, in order of time; arrays (n,).

    probe   : name; a thermometer that keeps lowest and highest gives two Readings of one name
    spot    : air, leaf or soil inside, or outside        depth_m : of a probe in the soil [m]
    sunlit  : 'shade', 'sun' (also: close under the lid), 'unknown': how far the sun may warm the probe itself
    kind    : 'moment', or the 'lowest' or 'highest' since the reading before
    height_m : over the soil, of a probe in the air [m]; None: not said, taken to be among the plants
    timed_by_hand : the times are a person's own, not those of a logger's clock that may be wrong
    since_s, at_s : seconds since 1970 UTC by the probe's own clock; equal for a moment
    temp_k  : as shown [K]
    """

    probe: str
    spot: Literal["air", "leaf", "soil", "outside"]
    at_s: NDArray[np.int64]
    temp_k: NDArray[np.float64]
    depth_m: float = 0.0
    sunlit: Sunlit = "unknown"
    kind: Literal["moment", "lowest", "highest"] = "moment"
    since_s: NDArray[np.int64] | None = None
    height_m: float | None = None
    timed_by_hand: bool = False

    @property
    def n_readings(self) -> int:
        """How many."""
        return int(self.temp_k.shape[0])

    def where(self, keep: NDArray[np.bool_]) -> Readings:
        """Those of a mask (n,)."""
        since = None if self.since_s is None else self.since_s[keep]
        return replace(self, at_s=self.at_s[keep], temp_k=self.temp_k[keep], since_s=since)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted value.

    low, high : where the true one lies nineteen times in twenty
    prior_low, prior_high : the same before any reading
    told      : whether the readings narrowed it clearly; otherwise they can't tell
    """

    value: float
    low: float
    high: float
    prior_low: float
    prior_high: float
    told: bool


@dataclass(frozen=True, slots=True)
class ProbeFit:
    """What was learned of a probe.

    offset      : reads too high by this [K]
    sun_heating : warmed by the sun itself [K per 1000 W/m2 of sun where it is]; None for a probe in the soil
    sun_warmed  : True where that is so much that its sunny readings count little
    noise_k     : spread of readings about the model [K]
    n_readings  : readings used          worth : independent readings that they are worth
    """

    probe: str
    spot: str
    offset: Estimate
    sun_heating: Estimate | None
    sun_warmed: bool
    noise_k: float
    n_readings: int
    worth: float


@dataclass(frozen=True, slots=True)
class Score:
    """Computed against measured over held-back days.

    error_k       : root of the mean squared difference [K]
    night_error_k : mean size of the error in each night's lowest air [K]; nan where there is none to compare
    """

    error_k: float
    night_error_k: float


@dataclass(frozen=True, slots=True)
class Tuned:
    """What readings taught about a shelter.

    parameters    : factors on the shelter as described, by knob (`tunable.KNOBS`); `apply_tuning` takes them
    estimates     : the same with intervals                     clock_shift : the loggers' clock is fast by this [h]
    ground        : how much warmer the ground was at the first hour than guessed [K]; None where a month of weather before makes it
    layering      : by how much the air warms upwards [K per m and 1000 W/m2 of sun inside]; None where no probe's height was said
    before, after : scores on `held_back_days` days that a trial fit did not see; None where too few days for that
    """

    parameters: dict[str, float]
    estimates: dict[str, Estimate]
    clock_shift: Estimate
    ground: Estimate | None
    layering: Estimate | None
    probes: tuple[ProbeFit, ...]
    held_back_days: int
    before: Score | None
    after: Score | None
