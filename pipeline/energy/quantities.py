"""From hours to energy, money and emissions: arithmetic with the unit in every name.

All functions take numbers or numpy arrays, and broadcast. Totals are Decimal, so that they do not
depend on the order of summation.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

WATTS_BASES = ("input", "lamp", "unknown")
DEFAULT_BALLAST_FACTOR_HID = 1.2

# Lamps registered with what they draw: no ballast to add to lamp watts (an LED's driver is in its rating).
_NO_BALLAST = frozenset({"led", "incandescent", "halogen"})


def input_watts(
    watts: Numbers,
    watts_basis: npt.ArrayLike,
    lamp: npt.ArrayLike = "",
    ballast_factor_hid: float = DEFAULT_BALLAST_FACTOR_HID,
) -> Floats:
    """Watts drawn from the line, ballast or driver included, by luminaire [W].

    watts : as registered [W]; watts_basis : "input", "lamp" or "unknown"; lamp : technology.
    "input" is taken as it is. "lamp" is multiplied by ``ballast_factor_hid`` (input over lamp watts, an
    assumption), except for LED, incandescent and halogen. "unknown" is taken as input, which can only
    understate the energy, never claim more than the register says.

    The default 1.2 is near a published tariff: a 150 W high-pressure sodium light billed 806 kWh for
    4,380 h draws 184 W, a factor of 1.23 (Valley Electric Association, street and area lighting).
    """
    watts, basis = np.asarray(watts, dtype=np.float64), np.asarray(watts_basis, dtype=str)
    if np.any(watts < 0):
        raise ValueError("watts must not be negative")
    strange = sorted(set(np.unique(basis).tolist()) - set(WATTS_BASES))
    if strange:
        raise ValueError(
            f"watts_basis {', '.join(map(repr, strange))} is not one of {', '.join(WATTS_BASES)}"
        )
    if not ballast_factor_hid >= 1:
        raise ValueError(f"ballast_factor_hid {ballast_factor_hid} is below 1: input is at least lamp watts")
    ballasted = ~np.isin(np.char.lower(np.asarray(lamp, dtype=str)), list(_NO_BALLAST))
    return np.where((basis == "lamp") & ballasted, watts * ballast_factor_hid, watts)


def energy_kwh(connected_w: Numbers, hours: Numbers) -> Floats:
    """Energy of a load of ``connected_w`` watts lit for ``hours`` hours [kWh]."""
    return np.asarray(connected_w, dtype=np.float64) * np.asarray(hours, dtype=np.float64) / 1000


def cost_of(energy_kwh: Numbers, price_per_kwh: Numbers, metered: npt.ArrayLike = True) -> Floats:
    """Cost of energy in the currency of the price; 0 on an unmetered account, billed by agreed burn hours."""
    priced = np.asarray(energy_kwh, dtype=np.float64) * np.asarray(price_per_kwh, dtype=np.float64)
    return np.where(np.asarray(metered, dtype=bool), priced, 0.0)


def co2e_kg(energy_kwh: Numbers, kg_co2e_per_kwh: Numbers) -> Floats:
    """Location-based emissions of energy [kg CO2e]; the same on unmetered accounts."""
    return np.asarray(energy_kwh, dtype=np.float64) * np.asarray(kg_co2e_per_kwh, dtype=np.float64)


def total(values: Iterable[float | Decimal], places: int = 6) -> Decimal:
    """Sum rounded value by value to ``places`` decimals: the same to the digit in any order.

    Raises ValueError for a missing value: a total that silently leaves one out is wrong.
    """
    unit = Decimal(1).scaleb(-places)
    numbers = [value if isinstance(value, Decimal) else Decimal(repr(float(value))) for value in values]
    missing = sum(not number.is_finite() for number in numbers)
    if missing:
        raise ValueError(
            f"{missing} of {len(numbers)} values are missing or infinite; decide on them before summing"
        )
    return sum((number.quantize(unit) for number in numbers), Decimal(0).quantize(unit))
