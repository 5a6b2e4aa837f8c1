"""Small random designs, and the mixed model solved on them by N x N algebra."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import block_diag

from lbeval.stats.reml import CellSums, Term, collapse

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Design:
    """Rows, terms with a covariance matrix each, and residual variances by group."""

    y: FloatArray
    x: FloatArray
    terms: tuple[Term, ...]
    matrices: tuple[FloatArray, ...]
    group: IntArray
    residual: FloatArray

    @property
    def parameters(self) -> FloatArray:
        flat = [m[np.tril_indices(m.shape[0])] for m in self.matrices]
        return np.concatenate([*flat, self.residual])

    def collapse(self) -> CellSums:
        return collapse(self.y, self.x, self.terms, self.group)


def incidence(term: Term) -> FloatArray:
    """(n, levels * width) columns of a term, level by level."""
    n = term.codes.shape[0]
    z = np.zeros((n, term.n_levels, term.width))
    z[np.arange(n), term.codes, 0] = 1.0
    if term.covariate is not None:
        z[np.arange(n), term.codes, 1] = term.covariate
    return z.reshape(n, -1)


@dataclass(frozen=True, eq=False)
class Brute:
    """The same model by plain linear algebra on the rows."""

    criterion: float
    beta: FloatArray
    effects: FloatArray
    covariance: FloatArray
    gradient: FloatArray
    average_information: FloatArray


def brute(design: Design) -> Brute:
    """Solve by N x N matrices: V, P, and their derivatives."""
    y, x = design.y, design.x
    z = np.hstack([incidence(t) for t in design.terms])
    g = block_diag(
        *(np.kron(np.eye(t.n_levels), m) for t, m in zip(design.terms, design.matrices, strict=True))
    )
    v = z @ g @ z.T + np.diag(design.residual[design.group])
    inverse = np.linalg.inv(v)
    spread = np.linalg.inv(x.T @ inverse @ x)
    beta = spread @ x.T @ inverse @ y
    rest = y - x @ beta
    p = inverse - inverse @ x @ spread @ x.T @ inverse
    criterion = (
        (y.shape[0] - x.shape[1]) * np.log(2 * np.pi)
        + np.linalg.slogdet(v)[1]
        - np.linalg.slogdet(spread)[1]
        + rest @ inverse @ rest
    )
    both = -spread @ x.T @ inverse @ z @ g
    slopes = _derivatives(design)
    seen = [s @ p @ y for s in slopes]
    return Brute(
        criterion=float(criterion),
        beta=beta,
        effects=g @ z.T @ inverse @ rest,
        covariance=np.block([[spread, both], [both.T, g - g @ z.T @ p @ z @ g]]),
        gradient=np.array([np.trace(p @ s) - y @ p @ s @ p @ y for s in slopes]),
        average_information=np.array([[a @ p @ b for b in seen] for a in seen]),
    )


def _derivatives(design: Design) -> list[FloatArray]:
    """Derivative of V by each parameter."""
    out: list[FloatArray] = []
    for term in design.terms:
        z = incidence(term)
        units = [np.ones((1, 1))]
        if term.width == 2:
            units = [np.array(u, float) for u in ([[1, 0], [0, 0]], [[0, 1], [1, 0]], [[0, 0], [0, 1]])]
        out.extend(z @ np.kron(np.eye(term.n_levels), u) @ z.T for u in units)
    out.extend(np.diag((design.group == g).astype(float)) for g in range(design.residual.shape[0]))
    return out


def random_design(seed: int, *, singular: bool = False) -> Design:
    """One to three terms, nested or crossed, with and without slopes, and one to three residuals."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(20, 60))
    terms: list[Term] = []
    matrices: list[FloatArray] = []
    for k in range(int(rng.integers(1, 4))):
        levels = int(rng.integers(2, 7))
        codes = rng.integers(0, levels, n)
        if k and rng.random() < 0.5:
            levels = 2 * terms[-1].n_levels
            codes = 2 * terms[-1].codes + rng.integers(0, 2, n)
        codes[:2] = [0, 1] if not k else codes[:2]
        covariate = np.round(rng.normal(size=n), int(rng.integers(0, 2))) if rng.random() < 0.4 else None
        root = rng.normal(size=(2, 2)) if covariate is not None else rng.normal(size=(1, 1))
        if singular:
            root[:, -1] = 0.0
        terms.append(Term(f"t{k}", codes, levels, covariate))
        matrices.append(root @ root.T)
    n_groups = int(rng.integers(1, 4))
    group = np.append(np.arange(n_groups), rng.integers(0, n_groups, n - n_groups))
    x = np.column_stack([np.ones(n), rng.normal(size=n).round(1), rng.integers(0, 2, n)])
    y = rng.normal(size=n) + 10.0
    return Design(y, x, tuple(terms), tuple(matrices), group, rng.uniform(0.5, 2.0, n_groups))


def numbered(*columns: IntArray) -> tuple[IntArray, int]:
    """Codes of the combinations that occur, and their number."""
    key = np.zeros(columns[0].shape[0], dtype=np.int64)
    for column in columns:
        key = key * (int(column.max()) + 1) + column
    found, codes = np.unique(key, return_inverse=True)
    return codes, found.shape[0]


VARIANCES = {
    "player": 0.19,
    "rater": 0.18,
    "game": 0.03,
    "player:rater": 0.08,
    "player:game": 0.04,
    "rater:game": 0.02,
    "player:criterion": 0.05,
    "rater:criterion": 0.036,
    "play": 0.05,
    "player:play": 0.2,
    "rater:player:play": 0.1,
    "player:play:criterion": 0.15,
}
MAIN = tuple(VARIANCES)[:8]


@dataclass(frozen=True, eq=False)
class Season:
    """Simulated grades: three to four players a play, each play graded by some of the raters."""

    y: FloatArray
    criterion: IntArray
    rater: IntArray
    codes: dict[str, tuple[IntArray, int]]

    @property
    def x(self) -> FloatArray:
        return np.eye(int(self.criterion.max()) + 1)[self.criterion]

    def terms(self, names: tuple[str, ...]) -> list[Term]:
        return [Term(name, *self.codes[name]) for name in names]


def season(
    rng: np.random.Generator,
    *,
    games: int,
    plays: int,
    players: int,
    raters: int,
    criteria: int,
    covered: float = 0.8,
    missing: float = 0.0,
    names: tuple[str, ...] = tuple(VARIANCES),
) -> Season:
    """Simulate a season with these terms; players differ from one year of twelve games to the next."""
    n_plays = games * plays
    play, player = np.nonzero(
        rng.random((n_plays, players)).argsort(axis=1) < rng.integers(3, 5, (n_plays, 1))
    )
    seen = rng.random((n_plays, raters)) < covered
    seen[np.arange(n_plays), rng.integers(0, raters, n_plays)] = True
    rep, rater = np.nonzero(seen[play])
    shape = (rep.shape[0], criteria)
    kept = rng.random(shape) >= missing
    part = {
        "player": np.broadcast_to(player[rep][:, None], shape)[kept],
        "rater": np.broadcast_to(rater[:, None], shape)[kept],
        "play": np.broadcast_to(play[rep][:, None], shape)[kept],
        "criterion": np.broadcast_to(np.arange(criteria), shape)[kept],
    }
    part["game"] = part["play"] // plays
    part["player"] = part["player"] + players * (part["game"] // 12)
    codes = {name: numbered(*(part[p] for p in name.split(":"))) for name in names}
    y = 3.0 + 0.1 * part["criterion"] + 0.68 * rng.normal(size=part["player"].shape[0])
    for name, (level, n_levels) in codes.items():
        y += np.sqrt(VARIANCES[name]) * rng.normal(size=n_levels)[level]
    return Season(y.astype(np.float64), part["criterion"], part["rater"], codes)
