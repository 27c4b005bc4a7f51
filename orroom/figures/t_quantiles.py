"""Quantiles of Student's t, so that a station need load no library for them."""

from __future__ import annotations

from typing import Final, Literal

Level = Literal[80, 95]  # two-sided, in per cent

#: Two-sided 80 % and 95 % quantiles for 1 to 30 degrees of freedom: the standard table of Student's t.
_T: Final[dict[Level, tuple[float, ...]]] = {
    80: (3.078, 1.886, 1.638, 1.533, 1.476, 1.440, 1.415, 1.397, 1.383, 1.372,
           1.363, 1.356, 1.350, 1.345, 1.341, 1.337, 1.333, 1.330, 1.328, 1.325,
           1.323, 1.321, 1.319, 1.318, 1.316, 1.315, 1.314, 1.313, 1.311, 1.310),
    95: (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
           2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
           2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042),
}  # fmt: skip

#: The same of the normal distribution, taken beyond 30 degrees of freedom.
_NORMAL: Final[dict[Level, float]] = {80: 1.282, 95: 1.960}


def t_quantile(level: Level, degrees: int) -> float:
    """The two-sided quantile. Raises ``ValueError`` below one degree of freedom."""
    if degrees < 1:
        raise ValueError(f"no t quantile for {degrees} degrees of freedom")
    return _T[level][degrees - 1] if degrees <= len(_T[level]) else _NORMAL[level]
