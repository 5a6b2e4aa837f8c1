"""Shrunken rates and means: beta-binomial and normal-normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import optimize, special, stats

from lbeval.errors import FitError
from lbeval.stats.proportions import check_level, jeffreys

FloatArray = npt.NDArray[np.float64]

GRID = 25  # points along the prior's mean and along its total
LARGEST_TOTAL = 1e6  # trials a prior may be worth; above it the rates are the same


class BetaPrior(NamedTuple):
    """Beta(alpha, beta) over the rates of a room; infinite where they do not differ beyond chance.

    ``mean`` is alpha / (alpha + beta) and ``total`` alpha + beta, the trials the prior is worth.
    """

    alpha: float
    beta: float
    mean: float
    total: float
    note: str = ""


@dataclass(frozen=True, eq=False)
class ShrunkenRates:
    """Rates of a room's players, each drawn towards the room's.

    Attributes
    ----------
    estimate, std_error, conf_low, conf_high : (n_players,) array
        Mean, standard deviation and central interval of the posterior; for a player without trials that of
        the room.
    raw : (n_players,) array
        Successes over trials, NaN without trials.
    prior : BetaPrior
        Maximum marginal likelihood.
    level : float
        Level of the interval.
    note : str
        Empty, ``one_group``, or ``no_spread`` where the likelihood is highest for equal rates.
    """

    estimate: FloatArray
    std_error: FloatArray
    conf_low: FloatArray
    conf_high: FloatArray
    raw: FloatArray
    prior: BetaPrior
    level: float
    note: str


@dataclass(frozen=True, eq=False)
class ShrunkenMeans:
    """Means drawn towards their common mean.

    ``shrinkage`` is the share of the way, 0 to 1; ``centre`` the common mean; ``variance`` that between the
    true means. ``std_error`` includes the uncertainty of the centre and of the variance (Morris 1983).
    """

    estimate: FloatArray
    std_error: FloatArray
    conf_low: FloatArray
    conf_high: FloatArray
    shrinkage: FloatArray
    centre: float
    variance: float
    level: float
    note: str


def beta_prior(count: npt.ArrayLike, nobs: npt.ArrayLike) -> BetaPrior:
    """Beta prior of maximum marginal (beta-binomial) likelihood.

    The empirical Bayes form of the rat tumour example (Tarone 1982; Gelman et al. 2013, Bayesian Data
    Analysis, 3rd ed., sec. 5.1-5.3). Groups without trials say nothing. Where the likelihood still grows at
    `LARGEST_TOTAL` trials the rates do not differ beyond chance: alpha, beta and total are infinite, noted
    ``no_spread``. The mean of a room that never or always succeeded lies on its boundary, noted ``boundary``.

    Raises
    ------
    FitError
        For impossible counts or fewer than two groups with trials.
    """
    y, n = _groups(count, nobs)
    if y.size < 2:
        raise FitError(
            f"{y.size} group with trials has no spread of rates; use the Jeffreys interval of its own"
        )
    if y.sum() in {0.0, n.sum()}:
        mean = float(y.sum() > 0)
        return BetaPrior(np.inf * mean if mean else 0.0, 0.0 if mean else np.inf, mean, np.inf, "boundary")

    def loss(theta: FloatArray) -> float:
        return -float(_log_marginal(y, n, special.expit(theta[0]), np.exp(theta[1])))

    pooled = float(special.logit(y.sum() / n.sum()))
    limits = [(pooled - 10, pooled + 10), (-6.0, float(np.log(LARGEST_TOTAL)))]
    starts = [np.array([pooled, log_total]) for log_total in (0.0, 3.0, 6.0)]
    found = [
        optimize.minimize(loss, start, method="Nelder-Mead", bounds=limits, tol=1e-10) for start in starts
    ]
    best = min(found, key=lambda one: float(one.fun))
    mean, total = float(special.expit(best.x[0])), float(np.exp(best.x[1]))
    binomial = -float(
        (special.xlogy(y, y.sum() / n.sum()) + special.xlog1py(n - y, -y.sum() / n.sum())).sum()
    )
    if total > 0.5 * LARGEST_TOTAL or binomial <= float(best.fun) + 1e-6:
        return BetaPrior(np.inf, np.inf, float(y.sum() / n.sum()), np.inf, "no_spread")
    return BetaPrior(mean * total, (1 - mean) * total, mean, total)


def beta_prior_moments(count: npt.ArrayLike, nobs: npt.ArrayLike) -> BetaPrior:
    """Beta prior with the mean and variance of the observed rates (Gelman et al. 2013, sec. 5.1).

    A rough start: the rates' own sampling error is taken for spread.

    Raises
    ------
    FitError
        For impossible counts, fewer than two groups with trials, or rates that are all equal.
    """
    y, n = _groups(count, nobs)
    rates = y / n
    if rates.size < 2 or rates.min() == rates.max():
        raise FitError("moments of a beta prior need two or more groups with different rates")
    mean, variance = float(rates.mean()), float(rates.var(ddof=1))
    total = mean * (1 - mean) / variance - 1
    if total <= 0:
        raise FitError("the rates spread more than any beta prior; use the marginal likelihood")
    return BetaPrior(mean * total, (1 - mean) * total, mean, total)


def overdispersion_moments(count: npt.ArrayLike, nobs: npt.ArrayLike) -> BetaPrior:
    """Beta prior of equally many trials a group, sampling error taken off the spread of the rates.

    With s^2 the variance of the rates and v = mean (1 - mean) / n, the intraclass correlation is
    (s^2 - v) / (mean (1 - mean) - v) and total = 1 / rho - 1; infinite, noted ``no_spread``, where s^2 <= v.

    Raises
    ------
    FitError
        For impossible counts, fewer than two groups, or unequal numbers of trials.
    """
    y, n = _groups(count, nobs)
    if y.size < 2 or (n != n[0]).any():
        raise FitError("this moment estimate needs two or more groups with equally many trials")
    rates = y / n
    mean = float(rates.mean())
    sampling = mean * (1 - mean) / float(n[0])
    spread = float(rates.var(ddof=1)) - sampling
    if spread <= 0 or n[0] < 2:
        return BetaPrior(np.inf, np.inf, mean, np.inf, "no_spread")
    total = (mean * (1 - mean) - sampling) / spread - 1
    return BetaPrior(mean * total, (1 - mean) * total, mean, total)


def posterior(
    count: npt.ArrayLike, nobs: npt.ArrayLike, prior: BetaPrior, level: float = 0.90
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Mean, standard deviation and central interval of each rate under a given prior.

    The prior is taken as known, so the interval is too short when it was estimated from few groups: see
    `shrink_rates`. An infinite prior gives its mean without spread.
    """
    check_level(level)
    y, n = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(nobs, dtype=float))
    if np.isinf(prior.total):
        mean = np.full(y.shape, prior.mean)
        return mean, np.zeros(y.shape), mean.copy(), mean.copy()
    a, b = prior.alpha + y, prior.beta + n - y
    tail = (1 - level) / 2
    spread = np.sqrt(a * b / ((a + b) ** 2 * (a + b + 1)))
    low, high = (np.asarray(stats.beta.ppf(share, a, b), dtype=float) for share in (tail, 1 - tail))
    return a / (a + b), spread, low, high


def shrink_rates(count: npt.ArrayLike, nobs: npt.ArrayLike, level: float = 0.90) -> ShrunkenRates:
    """Shrunken rates whose intervals average over the uncertainty of the prior.

    The posterior is averaged over a grid of the prior's mean and total, weighted by the marginal likelihood
    and the flat prior on (mean, total^-1/2), proportional to (alpha + beta)^-5/2 in alpha and beta (Gelman
    et al. 2013, sec. 5.3): intervals under the fitted prior alone are too short with a dozen players. One
    group with trials has its Jeffreys posterior.

    Parameters
    ----------
    count, nobs : (n_players,)
        Successes and trials; players without trials get the room's posterior.
    level
        Level of the interval.

    Raises
    ------
    FitError
        For impossible counts, or nobody with trials.
    """
    check_level(level)
    y, n = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(nobs, dtype=float))
    y, n = y.reshape(-1), n.reshape(-1)
    known_y, known_n = _groups(y, n)
    raw = np.full(y.shape, np.nan)
    np.divide(y, n, out=raw, where=n > 0)
    if known_y.size == 0:
        raise FitError("nobody has a trial; there is no rate to estimate")
    if known_y.size == 1:
        return _one_group(y, n, raw, level)
    prior = beta_prior(y, n)
    alpha, beta, weight = _grid(known_y, known_n)
    distinct, place = np.unique(np.column_stack([y, n]), axis=0, return_inverse=True)
    a, b = alpha + distinct[:, :1], beta + (distinct[:, 1:] - distinct[:, :1])
    mean = (a / (a + b)) @ weight
    second = (a * (a + 1) / ((a + b) * (a + b + 1))) @ weight
    low = _mixture_quantile((1 - level) / 2, a, b, weight)
    high = _mixture_quantile((1 + level) / 2, a, b, weight)
    std_error = np.sqrt(np.maximum(second - mean**2, 0))
    return ShrunkenRates(
        mean[place], std_error[place], low[place], high[place], raw, prior, level, prior.note
    )


def james_stein(values: npt.ArrayLike, variance: npt.ArrayLike, level: float = 0.90) -> ShrunkenMeans:
    """Means with known sampling variance drawn towards their mean.

    Equal variances: Efron & Morris (1975, JASA 70:311), multiplier 1 - (k - 3) V / S, never below zero.
    Unequal: each B_i = (k - 3) / (k - 1) V_i / (V_i + A), A by restricted maximum likelihood, centre weighted
    by 1 / (V_i + A), and interval, after Morris (1983, JASA 78:47).

    Parameters
    ----------
    values : (k,)
        Observed means, four or more.
    variance
        Sampling variance, one or one a mean.
    level
        Level of the interval.

    Raises
    ------
    FitError
        For fewer than four means, missing values, or a variance that is not positive.
    """
    check_level(level)
    x, v = np.broadcast_arrays(np.asarray(values, dtype=float), np.asarray(variance, dtype=float))
    if x.ndim != 1 or x.size < 4:
        raise FitError(f"{x.size} means are too few to learn a common mean and spread from; four are needed")
    if not (np.isfinite(x).all() and np.isfinite(v).all() and (v > 0).all()):
        raise FitError("means must be finite and their sampling variances above zero")
    k = x.size
    if (v == v[0]).all():
        centre = float(x.mean())
        squares = float(((x - centre) ** 2).sum())
        share = np.full(k, 1.0 if squares == 0 else min(1.0, (k - 3) * v[0] / squares))
        between = max(squares / (k - 1) - float(v[0]), 0.0)
        weight = np.full(k, 1 / k)
    else:
        between = _restricted_variance(x, v)
        precision = 1 / (v + between)
        weight = precision / precision.sum()
        centre = float(weight @ x)
        share = (k - 3) / (k - 1) * v / (v + between)
    estimate = centre + (1 - share) * (x - centre)
    of_share = 2 / (k - 3) * share**2 if k > 3 else share**2
    mean_v = (
        float(weight @ v) if between == 0 else float((v / (v + between)).sum() / (1 / (v + between)).sum())
    )
    ratio = (mean_v + between) / (v + between)
    spread = v * (1 - (1 - weight) * share) + of_share * ratio * (x - centre) ** 2
    std_error = np.sqrt(spread)
    half = float(stats.norm.ppf((1 + level) / 2)) * std_error
    note = "no_spread" if between == 0 else ""
    return ShrunkenMeans(
        estimate, std_error, estimate - half, estimate + half, share, centre, between, level, note
    )


def _groups(count: npt.ArrayLike, nobs: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    y, n = np.broadcast_arrays(np.asarray(count, dtype=float), np.asarray(nobs, dtype=float))
    y, n = y.reshape(-1), n.reshape(-1)
    jeffreys(y, n)  # refuses impossible counts
    return y[n > 0], n[n > 0]


def _log_marginal(y: FloatArray, n: FloatArray, mean: npt.ArrayLike, total: npt.ArrayLike) -> FloatArray:
    """Beta-binomial log likelihood without its binomial coefficients, for arrays of mean and total."""
    mu, size = np.asarray(mean, dtype=float), np.asarray(total, dtype=float)
    a, b = (mu * size)[..., None], ((1 - mu) * size)[..., None]
    parts = special.betaln(a + y, b + n - y) - special.betaln(a, b)
    found: FloatArray = parts.sum(axis=-1)
    return found


def _grid(y: FloatArray, n: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Grid of alpha and beta with its posterior weights, flattened; cells of no weight are left out.

    A wide grid finds where the weight is, a second one covers it. Axes: logit of the mean, total^-1/2.
    """
    successes, trials = float(y.sum()), float(n.sum())
    pooled = float(special.logit((successes + 0.5) / (trials + 1)))
    reach = 8 / np.sqrt(min(y.size, (successes + 0.5) * (trials - successes + 0.5) / (trials + 1)))
    box = (pooled - reach, pooled + reach, 0.0, 2.0)
    for _ in range(2):
        logits = np.linspace(box[0], box[1], GRID)
        step = (box[3] - box[2]) / GRID
        roots = box[2] + (np.arange(GRID) + 0.5) * step  # midpoints: zero would be an infinite total
        logit, root = np.meshgrid(logits, roots, indexing="ij")
        mean, total = special.expit(logit), root**-2
        log_weight = _log_marginal(y, n, mean, total) + np.log(mean * (1 - mean))  # flat in the mean
        weight = np.exp(log_weight - log_weight.max())
        keep = weight > 1e-6
        wide = logits[1] - logits[0]
        box = (
            float(logit[keep].min() - wide),
            float(logit[keep].max() + wide),
            max(float(root[keep].min() - step), 0.0),
            float(root[keep].max() + step),
        )
    return (mean * total)[keep], ((1 - mean) * total)[keep], weight[keep] / weight[keep].sum()


def _mixture_quantile(share: float, a: FloatArray, b: FloatArray, weight: FloatArray) -> FloatArray:
    """Quantile of a mixture of betas for each row of ``a`` and ``b``, by Newton steps kept in a bracket."""
    mean = (a / (a + b)) @ weight
    variance = (a * (a + 1) / ((a + b) * (a + b + 1))) @ weight - mean**2
    size = np.maximum(mean * (1 - mean) / np.maximum(variance, 1e-12) - 1, 1e-3)
    low, high = np.zeros(mean.size), np.ones(mean.size)
    at = np.clip(stats.beta.ppf(share, mean * size, (1 - mean) * size), 1e-9, 1 - 1e-9)
    constants = special.betaln(a, b)
    for _ in range(60):
        x = at[:, None]
        missing = share - special.betainc(a, b, x) @ weight
        low, high = np.where(missing > 0, at, low), np.where(missing > 0, high, at)
        density = np.exp((a - 1) * np.log(x) + (b - 1) * np.log1p(-x) - constants) @ weight
        step = at + missing / np.maximum(density, 1e-300)
        following = np.where((step > low) & (step < high), step, (low + high) / 2)
        if np.abs(following - at).max() < 1e-9:
            break
        at = following
    return at


def _one_group(y: FloatArray, n: FloatArray, raw: FloatArray, level: float) -> ShrunkenRates:
    """Jeffreys posterior of the one group with trials; nothing is known of the others."""
    nothing = np.where(n > 0, 0.0, np.nan)
    a, b = y + 0.5 + nothing, n - y + 0.5 + nothing
    low, high = jeffreys(y, n, level)
    spread = np.sqrt(a * b / ((a + b) ** 2 * (a + b + 1)))
    prior = BetaPrior(0.5, 0.5, 0.5, 1.0, "one_group")
    return ShrunkenRates(a / (a + b), spread, low, high, raw, prior, level, "one_group")


def _restricted_variance(x: FloatArray, v: FloatArray) -> float:
    """Variance between the true means of highest restricted likelihood, zero included."""

    def loss(between: float) -> float:
        precision = 1 / (v + between)
        centre = precision @ x / precision.sum()
        return float(np.log(v + between).sum() + np.log(precision.sum()) + precision @ (x - centre) ** 2)

    top = float(x.var(ddof=1) * 4 + v.max())
    starts = np.concatenate([[0.0], np.geomspace(float(v.min()) * 1e-4, top, 40)])
    best = int(np.argmin([loss(s) for s in starts]))
    if best == 0:
        return 0.0
    ends = (float(starts[best - 1]), float(starts[min(best + 1, starts.size - 1)]))
    found = optimize.minimize_scalar(loss, bounds=ends, method="bounded", options={"xatol": 1e-12 * top})
    return float(found.x)
