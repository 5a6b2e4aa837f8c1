"""Concordance: Kendall's W of rankings and Lin's coefficient of two raters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from lbeval.errors import FitError
from lbeval.stats.agreement.coefficient import Note, critical
from lbeval.stats.agreement.patterns import rating_matrix
from lbeval.stats.proportions import check_level

FloatArray = npt.NDArray[np.float64]

LARGEST_CHUNK = 4_000_000


@dataclass(frozen=True)
class KendallW:
    """Kendall's coefficient of concordance.

    ``chi_square`` with ``df`` degrees of freedom and ``p_value`` test that nobody ranks alike;
    ``mean_spearman`` is the mean rank correlation of all pairs, (m W - 1) / (m - 1). ``n`` units ranked
    by all ``n_raters``.
    """

    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    chi_square: float
    df: int
    p_value: float
    mean_spearman: float
    rank_sums: tuple[float, ...]
    n: int
    n_raters: int
    note: Note = Note.NONE


@dataclass(frozen=True)
class Concordance:
    """Lin's concordance correlation; ``n`` units rated by both."""

    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    level: float
    correlation: float
    n: int
    note: Note = Note.NONE


def kendall_w(
    ratings: npt.ArrayLike,
    *,
    rng: np.random.Generator | None = None,
    n_resamples: int = 2000,
    level: float = 0.90,
) -> KendallW:
    """Kendall's W with mid-ranks and the correction for ties (Kendall & Babington Smith 1939; Kendall 1970).

    No formula serves for an interval: with ``rng`` it is the percentile interval of resampled units, each
    resample ranked anew; without, NaN. The chi-square approximation is rough below eight units.

    Parameters
    ----------
    ratings : (n_units, n_raters)
        Ratings or ranks; units not rated by all raters are left out, noted ``incomplete``.
    rng
        Source of the resamples.
    n_resamples
        Number of resamples.
    level
        Confidence level.

    Returns
    -------
    KendallW
        NaN with a note for one rater, fewer than two complete units, or ties everywhere; noted ``ties``
        where a rater ranks all alike.

    Raises
    ------
    FitError
        For ratings that are not a finite matrix.
    """
    check_level(level)
    matrix = rating_matrix(ratings)
    rated = ~np.isnan(matrix)
    matrix = matrix[:, rated.any(axis=0)]
    complete = matrix[~np.isnan(matrix).any(axis=1)]
    n, m = complete.shape
    note = _cannot_rank(matrix, complete)
    if note:
        nan = np.nan
        return KendallW(nan, nan, nan, nan, level, nan, max(n - 1, 0), nan, nan, (), n, m, note)
    sums = stats.rankdata(complete, axis=0).sum(axis=1)
    w = float(_concordance(complete[None])[0])
    chi = m * (n - 1) * w
    std_error = low = high = np.nan
    if rng is not None:
        draws = _resampled(complete, rng, n_resamples)
        std_error = float(np.nanstd(draws, ddof=1))
        ends = np.nanquantile(draws, [(1 - level) / 2, (1 + level) / 2])
        low, high = min(float(ends[0]), w), max(float(ends[1]), w)
    return KendallW(
        estimate=w,
        std_error=std_error,
        conf_low=low,
        conf_high=high,
        level=level,
        chi_square=chi,
        df=n - 1,
        p_value=float(stats.chi2.sf(chi, n - 1)),
        mean_spearman=(m * w - 1) / (m - 1),
        rank_sums=tuple(sums.tolist()),
        n=n,
        n_raters=m,
        note=_reading(complete, n < rated.any(axis=1).sum()),
    )


def lin_ccc(first: npt.ArrayLike, second: npt.ArrayLike, *, level: float = 0.90) -> Concordance:
    """Lin's concordance correlation coefficient (1989, Biometrics 45:255; corrected 2000, 56:324).

    Variances divide by n; interval by the inverse hyperbolic tangent.

    Parameters
    ----------
    first, second : (n_units,)
        Ratings; units with either missing are left out.
    level
        Confidence level.

    Returns
    -------
    Concordance
        NaN with a note for fewer than three shared units or raters who never change their grade.

    Raises
    ------
    FitError
        For ratings that are not two equally long lists.
    """
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if one.ndim != 1 or one.shape != two.shape:
        raise FitError(
            f"concordance needs two raters' grades of the same units, not {one.shape} and {two.shape}"
        )
    both = np.isfinite(one) & np.isfinite(two)
    one, two = one[both], two[both]
    n, nan = one.size, np.nan
    check_level(level)
    if n < 3:
        return Concordance(nan, nan, nan, nan, level, nan, n, Note.ONE_UNIT if n else Note.NO_OVERLAP)
    if one.min() == one.max() or two.min() == two.max():
        both_constant = one.min() == one.max() and two.min() == two.max()
        note = Note.CONSTANT if both_constant and one[0] == two[0] else Note.CONSTANT_RATER
        return Concordance(nan, nan, nan, nan, level, nan, n, note)
    apart = float(one.mean() - two.mean())
    covariance = float(np.mean((one - one.mean()) * (two - two.mean())))
    spread_one, spread_two = float(one.std()), float(two.std())
    ccc = 2 * covariance / (spread_one**2 + spread_two**2 + apart**2)
    r = covariance / (spread_one * spread_two)
    if abs(ccc) >= 1 - 1e-12:
        note = Note.NO_ERROR if ccc > 0 else Note.NEGATIVE
        return Concordance(float(np.sign(ccc)), nan, nan, nan, level, r, n, note)
    # Lin's variance with the accuracy C = ccc / r in it, so that no correlation does not divide by zero
    accuracy = 2 * spread_one * spread_two / (spread_one**2 + spread_two**2 + apart**2)
    shift = apart**2 / (spread_one * spread_two)
    variance = (
        (1 - r**2) * accuracy**2 * (1 - ccc**2)
        + 2 * accuracy * ccc**2 * (1 - ccc) * shift
        - accuracy**2 * ccc**2 * shift**2 / 2
    ) / (n - 2)
    std_error = float(np.sqrt(max(variance, 0.0)))
    half = critical(level) * std_error / (1 - ccc**2)
    centre = np.arctanh(ccc)
    low, high = float(np.tanh(centre - half)), float(np.tanh(centre + half))
    return Concordance(ccc, std_error, low, high, level, r, n)


def _cannot_rank(matrix: FloatArray, complete: FloatArray) -> Note:
    if matrix.shape[1] == 0:
        return Note.NO_RATINGS
    if matrix.shape[1] == 1:
        return Note.ONE_RATER
    if complete.shape[0] < 2:
        return Note.ONE_UNIT if complete.shape[0] else Note.NO_OVERLAP
    if complete.min(axis=0).tolist() == complete.max(axis=0).tolist():
        return Note.TIES
    return Note.NONE


def _reading(complete: FloatArray, left_out: bool) -> Note:
    if (complete.min(axis=0) == complete.max(axis=0)).any():
        return Note.TIES
    return Note.INCOMPLETE if left_out else Note.NONE


def _concordance(samples: FloatArray) -> FloatArray:
    """W of each sample, (n_samples, n_units, n_raters); NaN where everything is tied."""
    n, m = samples.shape[1:]
    ranks = stats.rankdata(samples, axis=1)
    centred = ranks - (n + 1) / 2
    between = (centred.sum(axis=2) ** 2).sum(axis=1)
    # sum of squared ranks of a rater is (n^3 - n) / 12 less his ties' correction
    largest = m * (centred**2).sum(axis=(1, 2))
    found = np.full(samples.shape[0], np.nan)
    np.divide(between, largest, out=found, where=largest > 0)
    return found


def _resampled(complete: FloatArray, rng: np.random.Generator, n_resamples: int) -> FloatArray:
    step = max(1, LARGEST_CHUNK // complete.size)
    found = []
    for start in range(0, n_resamples, step):
        rows = min(step, n_resamples - start)
        drawn = rng.integers(0, complete.shape[0], size=(rows, complete.shape[0]))
        found.append(_concordance(complete[drawn]))
    return np.concatenate(found)
