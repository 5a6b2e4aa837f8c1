"""Rank bands, "clearly ahead" and tiers from joint draws of the players' grades."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import stats

from lbeval.errors import FitError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

LEAST_DRAWS = 100  # below it a 95 % quantile rests on fewer than five draws


def rank_bands(draws: npt.ArrayLike, level: float = 0.90) -> tuple[IntArray, IntArray]:
    """Central band of every player's rank; 1 is the highest grade.

    Each end is a rank that occurs, with at most ``(1 - level) / 2`` of the draws beyond it. Players
    tied in a draw take its best shared rank for the low end and its worst for the high end, so a tie
    widens a band and never splits by order of the columns.

    Parameters
    ----------
    draws : (n_draws, n_players)
        Joint draws of the grades, e.g. from their joint covariance.
    level
        Share of the draws inside the band.

    Returns
    -------
    tuple of (n_players,) int arrays
        Best and worst rank of the band.

    Raises
    ------
    FitError
        For fewer than `LEAST_DRAWS` draws or draws that are not finite.
    """
    values = _draws(draws)
    tail = (1 - level) / 2
    best = stats.rankdata(-values, method="min", axis=1)
    worst = stats.rankdata(-values, method="max", axis=1)
    low = np.quantile(best, tail, axis=0, method="inverted_cdf")
    high = np.quantile(worst, 1 - tail, axis=0, method="inverted_cdf")
    return low.astype(np.int64), high.astype(np.int64)


def clearly_ahead(estimate: npt.ArrayLike, draws: npt.ArrayLike, level: float = 0.95) -> BoolArray:
    """Pairs that can be told apart, all pairs of the room judged together.

    With d_ij the difference of the estimates, d*_ij that of a draw and se_ij the standard deviation
    of d*_ij over the draws, i is clearly ahead of j when d_ij > c se_ij, where c is the ``level``
    quantile, over the draws, of the maximum over all pairs of |d*_ij - d_ij| / se_ij: the max-t
    simultaneous interval (Hothorn, Bretz & Westfall 2008, Biom J 50:346). The chance that any pair
    of the room is called in the wrong order is then at most ``1 - level``.

    A pair whose difference is the same in every draw has no uncertainty: it takes no part in the
    maximum and is ordered by its estimates.

    Parameters
    ----------
    estimate : (n_players,)
        Grades.
    draws : (n_draws, n_players)
        Joint draws of the same grades.
    level
        Simultaneous confidence.

    Returns
    -------
    (n_players, n_players) bool array
        ``[i, j]`` is True where i is clearly ahead of j; otherwise the two cannot be separated.

    Raises
    ------
    FitError
        As in `rank_bands`, and when ``estimate`` does not fit the draws' columns.
    """
    values = _draws(draws)
    centre = np.asarray(estimate, dtype=float)
    if centre.shape != values.shape[1:] or not np.isfinite(centre).all():
        message = f"{centre.size} finite estimates are needed for {values.shape[1]} players drawn"
        raise FitError(message)
    n_players = centre.size
    gap = centre[:, None] - centre[None, :]
    std_error = np.zeros((n_players, n_players))
    largest = np.zeros(values.shape[0])
    noise = 1e-12 * max(1.0, float(np.abs(values).max(initial=0.0)))
    error = values - centre
    for i in range(n_players - 1):  # one player against the later ones: n_draws x n at a time
        apart = error[:, i, None] - error[:, i + 1 :]
        spread = apart.std(axis=0, ddof=1)
        spread[spread <= noise] = 0.0
        std_error[i, i + 1 :] = std_error[i + 1 :, i] = spread
        uncertain = spread > 0
        if uncertain.any():
            ratio = np.abs(apart[:, uncertain]) / spread[uncertain]
            np.maximum(largest, ratio.max(axis=1), out=largest)
    critical = np.quantile(largest, level, method="inverted_cdf")
    ahead: BoolArray = gap > np.maximum(critical * std_error, noise)
    return ahead


def tiers(estimate: npt.ArrayLike, ahead: npt.ArrayLike) -> IntArray:
    """Tiers of players not clearly behind their tier's top; 1 is the highest.

    The top is the highest grade not yet placed; everyone left over whom it is not clearly ahead
    joins its tier. Where grades tie at the top, being clearly behind one of them is enough to fall
    out, so the order of the players does not matter.

    Parameters
    ----------
    estimate : (n_players,)
        Grades.
    ahead : (n_players, n_players)
        Result of `clearly_ahead`.

    Returns
    -------
    (n_players,) int array
        Tier of every player.

    Raises
    ------
    FitError
        For a grade that is not finite, or a matrix that does not fit the grades.
    """
    grades = np.asarray(estimate, dtype=float)
    clearly = np.asarray(ahead, dtype=bool)
    if not np.isfinite(grades).all() or clearly.shape != (grades.size, grades.size):
        message = f"tiers need {grades.size} finite grades and a square matrix of pairs, not {clearly.shape}"
        raise FitError(message)
    tier = np.zeros(grades.size, dtype=np.int64)
    current = 0
    while (left := tier == 0).any():
        current += 1
        top = left & (grades == grades[left].max())
        tier[left & (top | ~clearly[top].any(axis=0))] = current
    return tier


def _draws(draws: npt.ArrayLike) -> FloatArray:
    values = np.asarray(draws, dtype=float)
    if values.ndim != 2 or values.shape[0] < LEAST_DRAWS or values.shape[1] == 0:
        message = (
            f"draws of shape {values.shape} cannot rank anyone; "
            f"give {LEAST_DRAWS} or more rows of draws, one column a player"
        )
        raise FitError(message)
    if not np.isfinite(values).all():
        message = "draws hold missing or infinite values; leave out players without a grade"
        raise FitError(message)
    return values
