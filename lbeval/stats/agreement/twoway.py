"""Mean squares of units x raters, from the analysis of variance or from REML components."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import lsqr

from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.crossed import Components, fixed_raters, one_way, random_raters, sums
from lbeval.stats.agreement.patterns import rating_matrix

FloatArray = npt.NDArray[np.float64]
Method = Literal["auto", "mean squares", "REML"]


@dataclass(frozen=True)
class TwoWay:
    """Mean squares with their degrees of freedom, named as in McGraw & Wong (1996).

    Attributes
    ----------
    rows, columns, error : float
        MSR of units, MSC of raters, MSE of the remainder.
    consistent_rows, consistent_error : float
        MSR and MSE of the model with fixed raters, which no rater's offset changes; they differ from the
        above with REML only.
    one_way_rows, within : float
        MSR and MSW of the one-way analysis; ``one_way_rows`` differs from ``rows`` with REML only.
    df_rows, df_columns, df_error, df_within : float
        Degrees of freedom.
    n : float
        Units a rater is compared on: their number, or with REML the harmonic mean over raters.
    k : float
        Ratings a unit: the number of raters, or with REML the harmonic mean over units.
    n_units, n_raters : int
        Units and raters that entered.
    method : str
        ``mean squares`` or ``REML``.
    note : Note
        Empty, or why figures are missing.
    """

    rows: float
    columns: float
    error: float
    consistent_rows: float
    consistent_error: float
    one_way_rows: float
    within: float
    df_rows: float
    df_columns: float
    df_error: float
    df_within: float
    n: float
    k: float
    n_units: int
    n_raters: int
    method: str
    note: Note

    @property
    def components(self) -> tuple[float, float, float]:
        """Variance components of unit, rater and remainder; mean squares can make the first two negative."""
        return (self.rows - self.error) / self.k, (self.columns - self.error) / self.n, self.error


def two_way(ratings: npt.ArrayLike, method: Method = "auto") -> TwoWay:
    """Split the variance of units x raters.

    Complete data: the mean squares of the analysis of variance. With missing cells, or on request: REML
    components (Patterson & Thompson 1971) of the crossed random model, of that with fixed raters, and of
    the one-way model, turned back into the mean squares they would give at the harmonic mean number of
    ratings a unit and a rater (Searle, Casella & McCulloch 1992, Variance Components, sec. 3.6), so that
    the same formulas serve both. REML components cannot be negative, mean squares' can.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        NaN is missing; raters and units without any rating are left out.
    method
        ``auto`` takes mean squares if no cell is missing and REML otherwise; ``mean squares`` on
        incomplete data drops the units not rated by all, noted ``incomplete``.

    Raises
    ------
    FitError
        For ratings that are not a finite matrix.
    """
    matrix = rating_matrix(ratings)
    rated = ~np.isnan(matrix)
    matrix = matrix[np.ix_(rated.any(axis=1), rated.any(axis=0))]
    rated = ~np.isnan(matrix)
    note = _cannot(matrix, rated)
    if note:
        return _nothing(matrix, rated, note)
    if method == "REML" or (method == "auto" and not rated.all()):
        return _reml(matrix, rated)
    complete = matrix[rated.all(axis=1)]
    if complete.shape[0] < 2:
        return _nothing(complete, rated, Note.ONE_UNIT if complete.shape[0] else Note.NO_OVERLAP)
    if complete.min() == complete.max():
        return _nothing(complete, rated, Note.CONSTANT)
    return _mean_squares(complete, Note.NONE if rated.all() else Note.INCOMPLETE)


def _cannot(matrix: FloatArray, rated: npt.NDArray[np.bool_]) -> Note:
    if not matrix.size:
        return Note.NO_RATINGS
    if matrix.shape[1] == 1:
        return Note.ONE_RATER
    if (rated.sum(axis=1) < 2).all():
        return Note.NO_OVERLAP
    if matrix.shape[0] < 2:
        return Note.ONE_UNIT
    if np.nanmin(matrix) == np.nanmax(matrix):
        return Note.CONSTANT
    return Note.NONE


def _nothing(matrix: FloatArray, rated: npt.NDArray[np.bool_], note: Note) -> TwoWay:
    nan = np.nan
    n_raters = int(rated.any(axis=0).sum()) if rated.size else 0
    return TwoWay(
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        nan,
        matrix.shape[0],
        n_raters,
        "none",
        note,
    )


def _mean_squares(matrix: FloatArray, note: Note) -> TwoWay:
    n, k = matrix.shape
    centred = matrix - matrix.mean()
    by_row, by_column = centred.mean(axis=1), centred.mean(axis=0)
    left = centred - by_row[:, None] - by_column
    squares_rows, squares_columns = k * float(by_row @ by_row), n * float(by_column @ by_column)
    squares_error = float((left**2).sum())
    # what is zero but for rounding, so that perfect agreement stays perfect
    tiny = 1e-13 * float((centred**2).sum())
    squares_rows, squares_columns, squares_error = (
        s if s > tiny else 0.0 for s in (squares_rows, squares_columns, squares_error)
    )
    return TwoWay(
        rows=squares_rows / (n - 1),
        columns=squares_columns / (k - 1),
        error=squares_error / ((n - 1) * (k - 1)),
        consistent_rows=squares_rows / (n - 1),
        consistent_error=squares_error / ((n - 1) * (k - 1)),
        one_way_rows=squares_rows / (n - 1),
        within=(squares_columns + squares_error) / (n * (k - 1)),
        df_rows=n - 1,
        df_columns=k - 1,
        df_error=(n - 1) * (k - 1),
        df_within=n * (k - 1),
        n=n,
        k=k,
        n_units=n,
        n_raters=k,
        method="mean squares",
        note=note,
    )


def _reml(matrix: FloatArray, rated: npt.NDArray[np.bool_]) -> TwoWay:
    unit, rater = np.nonzero(rated)
    n, k = matrix.shape
    groups = _groups(unit, rater, n, k)
    added = sums(matrix)
    df_error = added.n - n - k + groups
    constants = _differ_by_constants(matrix)
    crossed = fixed = Components(np.nan, np.nan, np.nan)
    note = Note.NONE
    if df_error < 1:
        note = Note.TOO_FEW_SHARED
    elif constants and groups == 1:
        # the likelihood has no maximum where unit and rater leave nothing unexplained
        crossed = fixed = _additive(matrix[rated], unit, rater)
    elif not constants:
        fixed = fixed_raters(added)
        crossed = random_raters(added) if groups == 1 else crossed
    if groups > 1:
        note = Note.NOT_LINKED
    if _no_spread_within(matrix, rated):
        alone = Components(float(np.nanmean(matrix, axis=1).var(ddof=1)), 0.0, 0.0)
    else:
        alone = one_way(added)
    per_unit = n / float((1 / rated.sum(axis=1)).sum())
    per_rater = k / float((1 / rated.sum(axis=0)).sum())
    return TwoWay(
        rows=per_unit * crossed.unit + crossed.error,
        columns=per_rater * crossed.rater + crossed.error,
        error=crossed.error,
        consistent_rows=per_unit * fixed.unit + fixed.error,
        consistent_error=fixed.error,
        one_way_rows=per_unit * alone.unit + alone.error,
        within=alone.error,
        df_rows=n - 1,
        df_columns=k - 1,
        df_error=df_error,
        df_within=added.n - n,
        n=per_rater,
        k=per_unit,
        n_units=n,
        n_raters=k,
        method="REML",
        note=note,
    )


def _groups(unit: npt.NDArray[np.intp], rater: npt.NDArray[np.intp], n: int, k: int) -> int:
    """Count the groups of raters that share no unit; one where all are linked."""
    edges = sparse.coo_array((np.ones(unit.size), (unit, n + rater)), shape=(n + k, n + k))
    groups, _ = connected_components(edges, directed=False)
    return int(groups)


def _no_spread_within(matrix: FloatArray, rated: npt.NDArray[np.bool_]) -> bool:
    low = np.where(rated, matrix, np.inf).min(axis=1)
    high = np.where(rated, matrix, -np.inf).max(axis=1)
    return bool((low == high).all())


def _differ_by_constants(matrix: FloatArray) -> bool:
    """Whether no two raters' ratings of one unit differ by more than a constant of theirs."""
    for a, b in combinations(range(matrix.shape[1]), 2):
        apart = matrix[:, a] - matrix[:, b]
        apart = apart[np.isfinite(apart)]
        if apart.size and np.ptp(apart) > 1e-9 * max(1.0, float(np.abs(apart).max())):
            return False
    return True


def _additive(y: FloatArray, unit: npt.NDArray[np.intp], rater: npt.NDArray[np.intp]) -> Components:
    """Components of ratings that are sums of a unit's and a rater's part."""
    rows, n, k = np.arange(y.size), unit.max() + 1, rater.max() + 1
    ones = np.ones(y.size)
    design = sparse.hstack(
        [
            sparse.csr_array((ones, (rows, unit)), shape=(y.size, n)),
            sparse.csr_array((ones, (rows, rater)), shape=(y.size, k)),
        ]
    )
    effects = lsqr(design, y - y.mean(), atol=1e-14, btol=1e-14)[0]
    severity = float(effects[n:].var(ddof=1))
    severity = severity if severity > 1e-18 * y.var() else 0.0
    return Components(float(effects[:n].var(ddof=1)), severity, 0.0)
