"""The rating model fitted: components by REML, then every reported quantity averaged over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lbeval.fit.ratings.design import Design
from lbeval.fit.ratings.marks import FloatArray
from lbeval.fit.ratings.targets import Targets
from lbeval.stats.averaging import Equations, Mixture, average, draw_variances
from lbeval.stats.reml import RemlFit, collapse, evaluate, fit_reml, parameter_names

LARGEST = 0.25  # no variance of marks between 0 and 1 is larger
FLOOR = 1e-4  # variances at which the coarse equations are taken out of the fit; any positive value does
N_POINTS, N_KEPT = 128, 48


@dataclass(frozen=True, eq=False)
class Model:
    """A fitted rating model: the REML fit, and the mixture of every target."""

    reml: RemlFit
    mixture: Mixture
    effective: float


def fit_model(scores: FloatArray, design: Design, targets: Targets, rng: np.random.Generator) -> Model:
    """Fit by REML, then average the targets over the coarse terms' variances.

    Terms of single plays and the residuals have thousands of levels and stay at their estimates; they are
    eliminated once. The coarse terms' variances are drawn from the restricted likelihood that is left.
    """
    cells = collapse(scores, design.x, design.terms, design.noise)
    reml = fit_reml(cells)
    equations = _coarse_equations(reml, design)
    start = [reml.components[t.name] for t in design.coarse]
    averaged = [t.name in design.averaged for t in design.coarse]
    upper = np.full(len(start), LARGEST)
    points = draw_variances(equations, start, upper, rng, n_points=N_POINTS, averaged=averaged)
    mixture = average(equations, points.thin(N_KEPT), targets.weights, targets.n_joint)
    return Model(reml, mixture, points.effective)


def _coarse_equations(reml: RemlFit, design: Design) -> Equations:
    """Take the coarse effects' own equations out of the fit.

    Their joint prediction-error covariance at any positive variances is the inverse of those equations with
    the precisions on the diagonal, so inverting it and taking the precisions off gives them back.
    """
    names = parameter_names(reml.cells)
    parameters = reml.parameters.copy()
    for term in design.coarse:
        place = names.index(term.name)
        parameters[place] = max(parameters[place], FLOOR)
    solution = evaluate(reml.cells, parameters)
    n_fixed, sizes = design.x.shape[1], tuple(t.n_levels for t in design.coarse)
    edges = np.cumsum([n_fixed, *sizes])
    every = np.eye(edges[-1])
    random = {t.name: every[:, a:b] for t, a, b in zip(design.coarse, edges[:-1], edges[1:], strict=True)}
    estimate, covariance = solution.combine(every[:, :n_fixed], random)
    matrix = np.linalg.inv(covariance)
    matrix = 0.5 * (matrix + matrix.T)
    right = matrix @ estimate
    precision = [np.full(t.n_levels, 1.0 / solution.components[t.name]) for t in design.coarse]
    random_columns = np.arange(n_fixed, edges[-1])
    matrix[random_columns, random_columns] -= np.concatenate(precision) if precision else 0.0
    return Equations(matrix, right, n_fixed, sizes)
