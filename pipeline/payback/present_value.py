"""Present-value factors: what an amount in a later year is worth at the base date.

Source: NIST Handbook 135, Life-Cycle Costing Manual; 10 CFR 436 subpart A. Rates are real (above
inflation) where amounts are in constant money, as everywhere here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def single_present_value(years: npt.ArrayLike, discount_rate: float) -> Floats:
    """Factor SPV = 1 / (1 + d)^t for an amount ``years`` after the base date (fractions allowed)."""
    check_rate(discount_rate)
    return np.asarray((1 + discount_rate) ** -np.asarray(years, dtype=np.float64))


def uniform_present_value(years: int, discount_rate: float) -> float:
    """Factor UPV = (1 - (1 + d)^-n) / d for an equal amount at the end of each of ``years`` years."""
    if years < 0:
        raise ValueError(f"years {years} is negative")
    return float(single_present_value(np.arange(1, years + 1), discount_rate).sum())


def check_rate(discount_rate: float) -> None:
    """Raise ValueError unless the rate is a fraction above -1 (3 % is 0.03)."""
    if not -1 < discount_rate < 1:
        raise ValueError(f"discount_rate {discount_rate} is not a fraction between -1 and 1 (3 % is 0.03)")
