"""Which ways a crop can take through the family's shelters: sown where it stays, or raised ahead and set out."""

from __future__ import annotations

from collections.abc import Sequence

from underglass.crop.types import Crop
from underglass.plan.outlook_types import Route
from underglass.shelter.model import OpenGround, Shelter

__all__ = ["fits", "refusal", "routes"]

NURSERY_HEADROOM_M = 0.10


def fits(crop: Crop, shelter: Shelter) -> bool:
    """Whether the crop has headroom to be grown to its harvest here.

    Under a low lid leaf crops that grow past it are cut young; anything else needs its height.
    """
    if isinstance(shelter.shape, OpenGround) or shelter.clear_height_m >= crop.spacing.height_m:
        return True
    young = crop.spacing.low_lid == "while young" and crop.kind in ("leaf", "herb", "root", "allium")
    return young and shelter.clear_height_m >= 0.6 * crop.spacing.height_m


def routes(crop: Crop, shelters: Sequence[Shelter]) -> list[Route]:
    """All sensible routes of a crop, direct ones first, in the order of the shelters."""
    beds = [s for s in shelters if s.kind in ("bed", "both") and fits(crop, s)]
    nurseries = [s for s in shelters if s.kind in ("nursery", "both") and s.clear_height_m >= NURSERY_HEADROOM_M]
    out = [Route(bed.name) for bed in beds]
    if crop.growth.raise_weeks is not None and crop.growth.set_out_to_full_cday is not None:
        out += [Route(bed.name, raised.name) for raised in nurseries for bed in beds if raised.name != bed.name]
    return out


def refusal(crop: Crop, route: Route, shelters: Sequence[Shelter]) -> str | None:
    """Why a crop can not take this route at all, in a sentence; None where it can, if only to be cut young.

    route : names of `shelters`
    """
    if route in routes(crop, shelters):
        return None
    bed = next(s for s in shelters if s.name == route.grown_in)
    if bed.kind == "nursery":
        return f"{bed.name} is for raising young plants: name the bed with --in, and {bed.name} with --raised-in"
    if not fits(crop, bed) and crop.kind in ("leaf", "herb") and route.raised_in is None:
        return None
    if not fits(crop, bed):
        return f"{crop.name} grows taller than {bed.name} has room for: it can be raised there (--raised-in), not grown"
    if route.raised_in == route.grown_in:
        return f"{crop.name} can not be raised in {bed.name} and set out to the same bed: leave --raised-in out"
    if crop.growth.raise_weeks is None or crop.growth.set_out_to_full_cday is None:
        return f"{crop.name} is sown where it stays, not raised and set out: leave --raised-in out"
    return f"{route.raised_in} is no place to raise young plants: name a sill, a jug or a box with --raised-in"
