"""Profile-likelihood intervals of variance components."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.stats import chi2

from lbeval.errors import FitError
from lbeval.stats.reml.newton import fit_reml

if TYPE_CHECKING:
    from lbeval.stats.reml.cells import CellSums
    from lbeval.stats.reml.newton import RemlFit
    from lbeval.stats.reml.rows import FloatArray

_WIDEN = 2.0
_MAX_WIDENINGS = 60


def profile(cells: CellSums, fit: RemlFit, name: str, level: float) -> tuple[float, float]:
    """Interval of all values of a variance that the restricted likelihood ratio does not reject.

    The criterion is minimised over the other parameters; its rise over the fit is referred to chi-square
    with one degree of freedom (Venzon & Moolgavkar 1988, Appl. Stat. 37, 87). The interval is conservative
    where it reaches 0.

    Parameters
    ----------
    cells, fit
        The collapsed design and its fit.
    name
        A parameter that is a variance by itself: a term without slope, or a residual variance.
    level
        Confidence level, in (0, 1).

    Returns
    -------
    conf_low, conf_high : float
        Variances. `conf_high` is infinite when the likelihood never falls far enough.

    Raises
    ------
    FitError
        When the name stands for no variance of its own.
    """
    slopes = {n for n, width in zip(cells.names, cells.widths, strict=True) if width == 2}
    if name not in fit.parameter_names or name.rpartition(".")[0] in slopes:
        message = f"no interval for '{name}': a profile needs a term without slope, or a residual variance"
        raise FitError(message)
    at = float(fit.parameters[fit.parameter_names.index(name)])
    rise = float(chi2.ppf(level, 1))
    nearby = fit.parameters

    def excess(root: float) -> float:
        """Rise of the criterion above the limit at a standard deviation."""
        nonlocal nearby
        found = _fit_at(cells, nearby, name, root**2)
        nearby = found.parameters
        return found.criterion - fit.criterion - rise

    centre = np.sqrt(at)
    low, zero_allowed = 0.0, name in cells.names
    bottom = 0.0 if zero_allowed else centre / 1e3
    if centre > 0.0 and excess(bottom) > 0.0:
        low = brentq(excess, bottom, centre, xtol=1e-7 * centre, rtol=1e-7)
    nearby = fit.parameters
    inner = centre
    top = _WIDEN * centre if centre > 0.0 else 0.1 * np.sqrt(cells.variance)
    for _ in range(_MAX_WIDENINGS):
        if excess(top) > 0.0:
            high = brentq(excess, inner, top, xtol=1e-7 * top, rtol=1e-7)
            return float(low**2), float(high**2)
        inner, top = top, _WIDEN * top
    return float(low**2), float(np.inf)


def _fit_at(cells: CellSums, start: FloatArray, name: str, value: float) -> RemlFit:
    return fit_reml(cells, start=start, fixed_parameters={name: value})
