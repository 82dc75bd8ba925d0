"""What thermometers showed, and what was learned from them.  Plain values, SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Estimate", "ProbeFit", "Readings", "Score", "Tuned"]


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings of one kind by one probe, in order of time; arrays (n,).

    probe   : name; a thermometer that keeps lowest and highest gives two Readings of one name
    spot    : air, leaf or soil inside, or outside        depth_m : of a probe in the soil [m]
    sunlit  : 'shade', 'sun' (also: close under the lid), 'unknown': how far the sun may warm the probe itself
    kind    : 'moment', or the 'lowest' or 'highest' since the reading before
    since_s, at_s : seconds since 1970 UTC by the probe's own clock; equal for a moment
    temp_k  : as shown [K]
    """

    probe: str
    spot: Literal["air", "leaf", "soil", "outside"]
    at_s: NDArray[np.int64]
    temp_k: NDArray[np.float64]
    depth_m: float = 0.0
    sunlit: Literal["shade", "sun", "unknown"] = "unknown"
    kind: Literal["moment", "lowest", "highest"] = "moment"
    since_s: NDArray[np.int64] | None = None

    @property
    def n_readings(self) -> int:
        """How many."""
        return int(self.temp_k.shape[0])

    def where(self, keep: NDArray[np.bool_]) -> Readings:
        """Those of a mask (n,)."""
        since = None if self.since_s is None else self.since_s[keep]
        return Readings(
            self.probe, self.spot, self.at_s[keep], self.temp_k[keep], self.depth_m, self.sunlit, self.kind, since
        )


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
    estimates     : the same with intervals                     clock_shift : the probes' clock is fast by this [h]
    before, after : scores on `held_back_days` days that a trial fit did not see; None where too few days for that
    """

    parameters: dict[str, float]
    estimates: dict[str, Estimate]
    clock_shift: Estimate
    probes: tuple[ProbeFit, ...]
    held_back_days: int
    before: Score | None
    after: Score | None
