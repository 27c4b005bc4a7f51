"""What the donor strip is expected to give."""

from __future__ import annotations

from math import fsum

from orroom.case.plan import Donor


def expected_grafts(donor: Donor) -> float:
    """Strip length × width × mean of the density readings × (1 − expected loss), in grafts."""
    mean_per_cm2 = fsum(donor.grafts_per_cm2) / len(donor.grafts_per_cm2)
    return donor.strip_length_cm * donor.strip_width_cm * mean_per_cm2 * (1 - donor.loss)


def expected_by_size(donor: Donor) -> dict[str, float]:
    """Expected grafts by size. What a mix leaves unassigned is not rescaled away."""
    whole = expected_grafts(donor)
    return {size: whole * share for size, share in donor.mix.items()}


def unassigned_share(donor: Donor) -> float:
    """The share of grafts that the mix gives no size."""
    return 1 - fsum(donor.mix.values())
