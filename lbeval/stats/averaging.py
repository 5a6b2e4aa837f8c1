"""Predictions of a mixed model averaged over the uncertainty of its variances, not plugged in.

With few levels (eleven players) the restricted likelihood leaves a variance wide open, and intervals that
take its estimate for the truth are too short. Here the restricted likelihood is read as a density of the
variances under a flat prior on each (Box & Tiao 1973, ch. 5; Gelman 2006, Bayesian Anal 1:515, on flat
priors for few levels), drawn by importance sampling, and every prediction becomes a mixture of normals.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy import interpolate, special
from scipy.linalg import lapack

from lbeval.errors import FitError

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int64]

GRID = 11  # places at which a variance's own likelihood is looked at
FINE = 401
REACH = 16.0  # fall of -2 log likelihood beyond which nothing is kept: e^-8 of the top
ATTEMPTS = 3
LEAST_EFFECTIVE = 0.35
WIDEN = 0.7  # proposals are the conditional likelihoods to this power, as joint ones are wider


@dataclass(frozen=True, eq=False)
class Equations:
    """Henderson's mixed-model equations of some effects, all others eliminated.

    Attributes
    ----------
    matrix
        (n, n) coefficients without the random effects' precisions: fixed effects first, then the terms.
    right
        (n,) right-hand side.
    n_fixed
        Fixed effects.
    sizes
        Levels of each of the T terms; `n_fixed + sum(sizes) == n`.
    """

    matrix: FloatArray
    right: FloatArray
    n_fixed: int
    sizes: tuple[int, ...]

    @cached_property
    def term(self) -> npt.NDArray[np.int64]:
        """(n,) number of the term of each column; T for the fixed effects."""
        fixed = np.full(self.n_fixed, len(self.sizes))
        return np.concatenate([fixed, np.repeat(np.arange(len(self.sizes)), self.sizes)]).astype(np.int64)

    def solve(self, variances: FloatArray) -> Solved:
        """Factor the equations at (T,) variances; a variance of zero takes its term out.

        Random effects are scaled by their standard deviations, so nothing is divided by a variance.

        Raises
        ------
        FitError
            When a fixed effect cannot be told from the others.
        """
        scale = np.concatenate([np.sqrt(variances), [1.0]])[self.term]
        scaled = self.matrix * scale[:, None] * scale
        random = np.arange(self.n_fixed, scaled.shape[0])
        scaled[random, random] += 1.0
        lower, info = lapack.dpotrf(scaled, lower=1, clean=1)
        if info:
            raise FitError("a criterion or a coach cannot be told from the others; look at who graded what")
        half = lapack.dtrtrs(lower, self.right * scale, lower=1)[0]
        return Solved(lower, half, scale)


@dataclass(frozen=True, eq=False)
class Solved:
    """The equations at one set of variances: Cholesky factor, L^-1 right, and the scale of each effect."""

    lower: FloatArray
    half: FloatArray
    scale: FloatArray

    @property
    def criterion(self) -> float:
        """-2 log restricted likelihood, up to a constant."""
        return float(2.0 * np.log(np.diag(self.lower)).sum() - self.half @ self.half)

    def combine(self, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Estimates (t,) of `weights` @ effects and a (t, n) root of their prediction-error covariance."""
        root = lapack.dtrtrs(self.lower, (weights * self.scale).T, lower=1)[0].T
        return root @ self.half, root


@dataclass(frozen=True, eq=False)
class Points:
    """Draws of the variances: (m, T) `variances` with (m,) `weights` that sum to 1."""

    variances: FloatArray
    weights: FloatArray

    @property
    def effective(self) -> float:
        """Effective number of draws (Kish)."""
        return float(1.0 / (self.weights**2).sum())

    def thin(self, m: int) -> Points:
        """At most `m` points of equal weight, by systematic resampling along the first variance."""
        if self.weights.size <= 1:
            return self
        order = np.argsort(self.variances[:, 0], kind="stable")
        edges = np.cumsum(self.weights[order])
        picked = np.searchsorted(edges, (np.arange(m) + 0.5) / m * edges[-1])
        found, times = np.unique(order[np.minimum(picked, order.size - 1)], return_counts=True)
        return Points(self.variances[found], times / m)


def draw_variances(
    equations: Equations,
    start: npt.ArrayLike,
    upper: npt.ArrayLike,
    rng: np.random.Generator,
    *,
    n_points: int = 128,
    averaged: npt.ArrayLike | None = None,
) -> Points:
    """Draws of the variances from the restricted likelihood under a flat prior on each.

    Proposals are, variance by variance, the likelihood with the others at `start`, widened; the points
    are a shifted low-discrepancy sequence and carry importance weights.

    Parameters
    ----------
    equations
        Of the terms whose variances are uncertain.
    start
        (T,) restricted maximum likelihood estimates.
    upper
        (T,) largest variance thought possible; makes the flat prior proper where levels are very few.
    rng
        For the shift of the sequence.
    n_points
        Draws.
    averaged
        (T,) True where a variance is drawn; the others stay at `start`.
    """
    centre, top = np.asarray(start, dtype=float), np.asarray(upper, dtype=float)
    free = np.flatnonzero(np.ones(centre.size, bool) if averaged is None else np.asarray(averaged))
    if free.size == 0:
        return Points(centre[None], np.ones(1))
    uniform = _low_discrepancy(n_points, free.size, rng)
    for _ in range(ATTEMPTS):
        points, best = _draw_around(equations, centre, top, free, uniform)
        if points.effective >= LEAST_EFFECTIVE * n_points:
            break
        centre = best  # the start was not where the likelihood is
    return points


def _draw_around(
    equations: Equations, centre: FloatArray, top: FloatArray, free: IntArray, uniform: FloatArray
) -> tuple[Points, FloatArray]:
    """Draws with proposals about `centre`, and the most likely of them."""
    n_points = uniform.shape[0]
    variances = np.tile(centre, (n_points, 1))
    log_weight = np.zeros(n_points)
    for column, t in enumerate(free):
        deviation, log_density = _propose(
            equations, centre, int(t), float(np.sqrt(top[t])), uniform[:, column]
        )
        variances[:, t] = deviation**2
        log_weight += np.log(deviation) - log_density  # flat in the variance is proportional to s in s
    log_likelihood = np.array([-0.5 * equations.solve(one).criterion for one in variances])
    log_weight += log_likelihood
    weights = np.exp(log_weight - log_weight.max())
    return Points(variances, weights / weights.sum()), variances[int(np.argmax(log_likelihood))]


def _propose(
    equations: Equations, centre: FloatArray, term: int, top: float, uniform: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return standard deviations of one term at (m,) probabilities, and their log density."""

    def criterion(deviation: float) -> float:
        variances = centre.copy()
        variances[term] = deviation**2
        return equations.solve(variances).criterion

    mode = min(float(np.sqrt(centre[term])), top)
    least = criterion(mode)
    low, high = (_edge(criterion, least, mode, end) for end in (0.0, top))
    grid = np.linspace(low, high, GRID)
    fall = np.array([criterion(one) for one in grid])
    edges = np.linspace(low, high, FINE)
    middle = 0.5 * (edges[1:] + edges[:-1])
    log_likelihood = -0.5 * interpolate.PchipInterpolator(grid, fall - fall.min())(middle)
    mass = middle * np.exp(WIDEN * log_likelihood)
    mass /= mass.sum()
    cumulated = np.concatenate([[0.0], np.cumsum(mass)])
    place = np.clip(np.searchsorted(cumulated, uniform, side="right") - 1, 0, FINE - 2)
    step = edges[1] - edges[0]
    within = np.clip((uniform - cumulated[place]) / mass[place], 1e-6, 1.0)
    return edges[place] + within * step, np.log(mass[place] / step)


def _edge(criterion: Callable[[float], float], least: float, mode: float, end: float) -> float:
    """Place towards `end` where the criterion has risen by about `REACH` over `least`."""
    sign = np.sign(end - mode)
    if sign == 0:
        return end
    span = abs(end - mode)
    inner, step = 0.0, min(span, max(mode, 0.02 * span) / 4)
    while step < span and criterion(mode + sign * step) - least < REACH:
        inner, step = step, 2 * step
    outer = min(step, span)
    for _ in range(3):
        half = 0.5 * (inner + outer)
        if criterion(mode + sign * half) - least < REACH:
            inner = half
        else:
            outer = half
    return float(mode + sign * outer)


def _low_discrepancy(m: int, dimensions: int, rng: np.random.Generator) -> FloatArray:
    """(m, dimensions) points of a randomly shifted additive recurrence with the roots of x^(d+1) = x + 1."""
    base = 2.0
    for _ in range(60):
        base = (1 + base) ** (1 / (dimensions + 1))
    steps = base ** -np.arange(1.0, dimensions + 1)
    points: FloatArray = (rng.random(dimensions) + np.arange(1, m + 1)[:, None] * steps) % 1.0
    return points


@dataclass(frozen=True, eq=False)
class Mixture:
    """Predictions as a mixture of normals.

    Attributes
    ----------
    weights
        (m,) weights of the points.
    means, deviations
        (m, t) mean and standard deviation of each prediction at each point.
    covariances
        (m, j, j) covariance of the first j predictions at each point: those that are drawn together.
    """

    weights: FloatArray
    means: FloatArray
    deviations: FloatArray
    covariances: FloatArray

    @property
    def estimate(self) -> FloatArray:
        """(t,) means."""
        return np.asarray(self.weights @ self.means)

    @property
    def std_error(self) -> FloatArray:
        """(t,) standard deviations: within points and between them."""
        square = self.deviations**2 + (self.means - self.estimate) ** 2
        return np.sqrt(np.asarray(self.weights @ square, dtype=np.float64))

    def interval(self, level: float) -> tuple[FloatArray, FloatArray]:
        """Central interval of every prediction, by bisection on the mixture's distribution function."""
        tail = (1 - level) / 2
        return self._quantile(tail), self._quantile(1 - tail)

    def _quantile(self, probability: float) -> FloatArray:
        low = (self.means - 9 * self.deviations).min(axis=0)
        high = (self.means + 9 * self.deviations).max(axis=0)
        spread = np.maximum(self.deviations, np.finfo(float).tiny)
        for _ in range(52):
            middle = 0.5 * (low + high)
            below = self.weights @ special.ndtr((middle - self.means) / spread) < probability
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray(0.5 * (low + high))

    def draws(self, n: int, rng: np.random.Generator) -> FloatArray:
        """(n, j) joint draws of the first j; points take their share of them by systematic sampling."""
        joint = self.covariances.shape[1]
        shares = np.concatenate([[0.0], np.cumsum(self.weights)])
        edges = np.round(shares / shares[-1] * n).astype(int)
        drawn = np.empty((n, joint))
        for k, (first, last) in enumerate(itertools.pairwise(edges)):
            values, vectors = np.linalg.eigh(
                self.covariances[k]
            )  # may be singular: grades can share everything
            root = vectors * np.sqrt(np.maximum(values, 0.0))
            drawn[first:last] = self.means[k, :joint] + rng.standard_normal((last - first, joint)) @ root.T
        return drawn


def average(equations: Equations, points: Points, weights: FloatArray, joint: int) -> Mixture:
    """Mixture over the points of the (t, n) combinations `weights` of the effects.

    The covariances of the first `joint` combinations are kept.
    """
    means, deviations, covariances = [], [], []
    for variances in points.variances:
        mean, root = equations.solve(variances).combine(weights)
        means.append(mean)
        deviations.append(np.sqrt((root**2).sum(axis=1)))
        covariances.append(root[:joint] @ root[:joint].T)
    return Mixture(points.weights, np.stack(means), np.stack(deviations), np.stack(covariances))
