"""The internal rate of return of a cash flow, where there is exactly one."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from pipeline.payback.present_value import Floats

_LOWEST, _HIGHEST = -0.99, 100.0  # -99 % to 10,000 % a year
_STEPS = 4000


def internal_rate_of_return(amounts: Floats, times_years: Floats) -> tuple[float | None, str]:
    """Rate at which the present value of ``amounts`` (received +, paid -) is zero, and why if there is none.

    amounts : amount at each time; times_years : years from the base date.
    Several rates can solve a flow that changes sign more than once (a replacement in a later year); no
    one of them is then the return, so the answer is None.
    """
    if not (np.any(amounts > 0) and np.any(amounts < 0)):
        return None, "the yearly differences never change sign, so no rate balances them"
    growth = np.geomspace(1 + _LOWEST, 1 + _HIGHEST, _STEPS)
    worth = _worth(growth, amounts, times_years)
    crossings = np.flatnonzero(np.sign(worth[:-1]) * np.sign(worth[1:]) < 0)
    rates = [
        float(brentq(lambda g: float(_worth(np.array([g]), amounts, times_years)[0]), *growth[i : i + 2])) - 1
        for i in crossings
    ]
    rates += [float(g) - 1 for g in growth[worth == 0]]
    if len(rates) == 1:
        return rates[0], ""
    if not rates:
        return None, f"no rate from {_LOWEST:.0%} to {_HIGHEST:,.0%} balances the yearly differences"
    listed = ", ".join(f"{rate:.1%}" for rate in sorted(rates))
    return None, f"{len(rates)} rates balance the yearly differences ({listed}), so none is the return"


def _worth(growth: Floats, amounts: Floats, times_years: Floats) -> Floats:
    """Present value for each growth factor 1 + r."""
    return np.asarray(growth[:, None] ** -times_years[None, :] @ amounts, dtype=np.float64)
