"""Residual maximum likelihood by projected average-information steps (Patterson & Thompson 1971)."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from lbeval.errors import FitError
from lbeval.stats.reml.derivatives import Derivatives, derivatives
from lbeval.stats.reml.moves import Moves
from lbeval.stats.reml.solution import Solution, evaluate
from lbeval.stats.reml.state import State, first_state
from lbeval.stats.reml.threads import one_thread
from lbeval.stats.reml.variances import as_matrix, parameter_names, term_slices

if TYPE_CHECKING:
    from collections.abc import Mapping

    from lbeval.stats.reml.cells import CellSums
    from lbeval.stats.reml.rows import FloatArray

_MAX_STEPS = 100
# Ridges tried in turn until a step does not raise the criterion: first on free steps, then on cautious ones.
_BOLD = (0.0, 0.1, 1.0)
_RIDGES = (0.0, 0.1, 1.0, 10.0, 1e2, 1e3, 1e4, 1e6)
# The criterion is taken as minimal when a Newton step promises to lower it by less than this.
_TOLERANCE = 1e-9
# Early steps leave each variance at least this share of itself: far from the minimum they overshoot.
_CAUTIOUS = 3
_KEEP = 0.25
_ROUND_OFF = 1e-12
# Effective levels of a term, at the starting values, below which it is no more than its fixed effects.
_NOTHING_LEFT = 1e-6


@dataclass(frozen=True, eq=False)
class RemlFit(Solution):
    """A fitted model: the solution at the REML estimates, and how they were reached.

    Attributes
    ----------
    parameter_names
        Names of the flat vector `parameters`.
    parameter_cov
        Inverse average information; NaN for parameters at the boundary or held fixed.
    at_boundary
        Names of terms whose variance is zero, or whose covariance matrix is singular, and of residual
        variances at their lower limit.
    converged
        Whether a further step promises to lower the criterion by less than 1e-9.
    n_evaluations
        Factorisations used.
    """

    parameter_names: tuple[str, ...]
    parameter_cov: FloatArray
    at_boundary: tuple[str, ...]
    converged: bool
    n_evaluations: int


@one_thread
def fit_reml(
    cells: CellSums,
    *,
    start: FloatArray | None = None,
    fixed_parameters: Mapping[str, float] | None = None,
) -> RemlFit:
    """Fit all variance parameters by REML.

    Parameters
    ----------
    cells
        Result of `collapse`.
    start
        Flat vector of starting values; by default half of the variance is residual.
    fixed_parameters
        Parameters held at a value, by name. Those of a term with a slope are held together.

    Raises
    ------
    FitError
        When a name is unknown, a value is impossible, or a term only repeats fixed effects.
    """
    names = parameter_names(cells)
    fixed = _positions(cells, names, fixed_parameters or {})
    search = _Search(frozenset(fixed))
    point = search.look(first_state(cells, start, fixed))
    if start is None:
        _check_identified(point, search.fixed)
    converged = search.descend(point)
    last = search.best
    solution = search.polished()
    values = {f.name: getattr(solution, f.name) for f in fields(Solution)}
    return RemlFit(
        **values,
        parameter_names=names,
        parameter_cov=Moves(last.state, last.slope, search.fixed).covariance(),
        at_boundary=last.state.at_boundary(),
        converged=converged,
        n_evaluations=search.evaluations,
    )


@dataclass(frozen=True, eq=False)
class _Point:
    """A state with its criterion and derivatives."""

    state: State
    criterion: float
    slope: Derivatives


class _Search:
    """Descent on the criterion, counting evaluations."""

    def __init__(self, fixed: frozenset[int]) -> None:
        self.fixed = fixed
        self.evaluations = 0

    def look(self, state: State) -> _Point:
        """Evaluate a state, moved to the best overall scale of all variances where that is free."""
        self.evaluations += 1
        solution = evaluate(state.cells, state.flat(lifted=True))
        slope = derivatives(solution)
        if self.fixed or state.limited.any():
            return _Point(state, solution.criterion, slope)
        free = solution.n_obs - state.cells.rank
        ratio = solution.quadratic / free
        criterion = solution.criterion - solution.quadratic + free + free * float(np.log(ratio))
        return _Point(state.rescaled(ratio), criterion, slope.rescaled(ratio))

    def descend(self, point: _Point) -> bool:
        """Step until no step promises anything; whether that was reached."""
        self.best = point
        for count in range(_MAX_STEPS):
            moves = Moves(self.best.state, self.best.slope, self.fixed, balanced=count == 0)
            if moves.promise(moves.step(0.0)) < _TOLERANCE:
                return True
            if not self._advance(moves, _KEEP if count < _CAUTIOUS else 0.0):
                return False
        return False

    def _advance(self, moves: Moves, keep: float) -> bool:
        """Take the longest step that does not raise the criterion (Levenberg 1944, Q. Appl. Math. 2, 164)."""
        bold = [] if keep else [(ridge, 0.0) for ridge in _BOLD]
        for ridge, share in (*bold, *((ridge, _KEEP) for ridge in _RIDGES)):
            trial = self.look(moves.state(moves.step(ridge), share))
            if trial.criterion <= self.best.criterion + _ROUND_OFF * abs(self.best.criterion):
                self.best = trial
                return True
        return False

    def polished(self) -> Solution:
        """Solution one more step on, where that is no worse; components at zero are exactly zero in it."""
        self.evaluations += 1
        moves = Moves(self.best.state, self.best.slope, self.fixed)
        state = moves.state(moves.step(0.0), 0.0)
        if state.ranks == self.best.state.ranks:
            solution = evaluate(state.cells, state.flat(lifted=False))
            if solution.criterion <= self.best.criterion + _ROUND_OFF * abs(self.best.criterion):
                return solution
            self.evaluations += 1
        return evaluate(state.cells, self.best.state.flat(lifted=False))


def _check_identified(point: _Point, fixed: frozenset[int]) -> None:
    """Refuse a term of which nothing is left beside the fixed effects: its variance could be anything."""
    cells = point.state.cells
    for k, part in enumerate(term_slices(cells)):
        if part.start in fixed:
            continue
        flat, root = point.slope.traces[part].copy(), np.linalg.cholesky(point.state.matrices[k])
        if flat.shape[0] > 1:
            flat[1] /= 2.0
        left = np.linalg.eigvalsh(root.T @ as_matrix(flat) @ root)[0]
        if left < _NOTHING_LEFT:
            message = (
                f"term '{cells.names[k]}' only repeats fixed effects, or its own intercepts: leave it out"
            )
            raise FitError(message)


def _positions(cells: CellSums, names: tuple[str, ...], fixed: Mapping[str, float]) -> dict[int, float]:
    for name in fixed:
        if name not in names:
            message = f"no variance parameter '{name}'; there are {', '.join(names)}"
            raise FitError(message)
    out = {names.index(name): float(value) for name, value in fixed.items()}
    for part, name in zip(term_slices(cells), cells.names, strict=True):
        held = [i in out for i in range(part.start, part.stop)]
        if any(held) and not all(held):
            message = f"term '{name}': hold all of its parameters fixed or none"
            raise FitError(message)
    return out
