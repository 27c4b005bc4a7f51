"""What the donor area is expected to give, how sure that is, and how near it came."""

import math
from collections.abc import Mapping
from math import fsum
from statistics import fmean, stdev
from typing import Final, NamedTuple

from orroom.case.plan import Donor, shared_out
from orroom.figures.clusters import t_quantile

#: The usual confidence of a range; a convention.
CONFIDENCE: Final = 0.95

#: Two marks are made this far apart before the scalp is pressed together.
ELASTICITY_MARKS_MM: Final = 50
ELASTICITY_SOURCE: Final = "Hair Transplant Forum Int 2005;15(4):122–123 (not verified)."


class Range(NamedTuple):
    """From ``low`` to ``high`` grafts, at a confidence between 0 and 1."""

    low: float
    high: float
    confidence: float


class Comparison(NamedTuple):
    """An estimate and what came: the difference in grafts, and as a share of the estimate."""

    difference: float
    share: float | None


def expected_grafts(donor: Donor) -> float:
    """Strip length × width × mean of the density readings × (1 − expected loss), in grafts."""
    return _usable_cm2(donor) * fmean(donor.grafts_per_cm2)


def expected_by_size(donor: Donor) -> dict[str, float]:
    """Expected grafts by size. What a mix leaves unassigned is not rescaled away."""
    whole = expected_grafts(donor)
    return {size: whole * share for size, share in donor.mix.items()}


def expected_hairs_per_graft(donor: Donor, hairs: Mapping[str, float]) -> float:
    """Mean hairs of an expected graft, by the hairs of each size; one that the mix gives no size has none."""
    return fsum(share * hairs[size] for size, share in donor.mix.items())


def whole_grafts_by_size(donor: Donor) -> dict[str, int]:
    """Expected grafts by size as whole numbers that add up to the whole, but for what has no size."""
    unassigned = max(0.0, unassigned_share(donor))
    return shared_out(round(expected_grafts(donor) * (1 - unassigned)), dict(donor.mix.items()))


def unassigned_share(donor: Donor) -> float:
    """The share of grafts that the mix gives no size."""
    return 1 - fsum(donor.mix.values())


def expected_range(donor: Donor, confidence: float = CONFIDENCE) -> Range | None:
    """The range of ``expected_grafts`` from the spread of the density readings.

    ``None`` with one reading, or where all are the same: they show nothing of the spread.
    Mean reading ± t(n − 1) · s / √n (Student's t interval of a mean), times strip area × (1 − expected loss).
    The readings count as independent, and strip, loss and mix as exact, so the true doubt is wider. A low end
    below 0 grafts is 0.
    """
    readings = donor.grafts_per_cm2
    if len(set(readings)) < 2:
        return None
    half = t_quantile(100 * confidence, len(readings) - 1) * stdev(readings) / math.sqrt(len(readings))
    area, mean = _usable_cm2(donor), fmean(readings)
    return Range(max(0.0, area * (mean - half)), area * (mean + half), confidence)


def elasticity_percent(pressed_mm: float) -> float:
    """Scalp elasticity in per cent from how near two marks, 50 mm apart, come when pressed together.

    E = (50 − x) / 50 × 100, by ``ELASTICITY_SOURCE``.

    Raises ``ValueError`` outside 0 to 50 mm.
    """
    if not 0 <= pressed_mm <= ELASTICITY_MARKS_MM:
        raise ValueError(f"marks {pressed_mm} mm apart; give 0 to {ELASTICITY_MARKS_MM} mm")
    return (ELASTICITY_MARKS_MM - pressed_mm) / ELASTICITY_MARKS_MM * 100


def compared(estimated: float, actual: float) -> Comparison:
    """What came less what was estimated, in grafts and as a share of the estimate (``None`` if it was 0)."""
    difference = actual - estimated
    return Comparison(difference, difference / estimated if estimated else None)


def _usable_cm2(donor: Donor) -> float:
    """The strip's area less what is expected to be lost in cutting."""
    return donor.strip_length_cm * donor.strip_width_cm * (1 - donor.loss)
