"""How widely each rater spreads his marks, from reps that three or more of them marked."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from lbeval.fit.ratings.marks import FloatArray, Marks

LEAST_SHARED = 150  # reps and criteria marked by the same three raters
LARGEST_ERROR = 0.25  # standard error of a log slope beyond which equal slopes are the better guess
BLOCKS = 20  # of plays, for the jackknife


@dataclass(frozen=True, eq=False)
class Spread:
    """Slopes of the raters: (n_raters,) with mean 1; `why_equal` says why they were taken as equal."""

    slopes: FloatArray
    why_equal: str

    def rescale(self, marks: Marks) -> FloatArray:
        """Scores with every rater's spread made the staff's average, about his own mark of an average rep."""
        if self.why_equal:
            return marks.score
        centre = _average_rep(marks)[marks.rater.codes]
        return np.asarray(centre + (marks.score - centre) / self.slopes[marks.rater.codes])


def estimate_spread(marks: Marks) -> Spread:
    """Slopes of a common factor behind the raters' marks.

    With y_r = a_r + b_r f + e_r on reps that raters i, j and k all marked, cov(y_i, y_j) = b_i b_j var(f):
    three covariances give the three slopes up to a unit, untouched by noise (Spearman 1904; a regression of
    one rater on another would be attenuated). With more raters the log covariances of all triples are fitted
    by weighted least squares. Standard errors are from a jackknife over blocks of plays; log slopes are drawn
    toward equality by the method-of-moments factor τ²/(τ² + se²). The unit is a mean slope of 1.

    Equal slopes are assumed, and said, with fewer than three raters, with fewer than `LEAST_SHARED` marks in
    common for a rater, or where a slope's standard error exceeds `LARGEST_ERROR` on the log scale.
    """
    n = marks.rater.n
    equal = np.ones(n)
    if n < 3:
        return Spread(
            equal, "All coaches are taken to spread their marks alike: telling it needs three of them."
        )
    table = _shared(marks)
    whole = _log_slopes(table.drop(columns="block"), n)
    why = "All coaches are taken to spread their marks alike: too few reps were marked by three of them."
    if whole is None:
        return Spread(equal, why)
    parts = [_log_slopes(table.loc[table["block"] != k].drop(columns="block"), n) for k in range(BLOCKS)]
    found = (
        np.stack([part for part in parts if part is not None]) if any(p is not None for p in parts) else equal
    )
    if len(found) < BLOCKS:
        return Spread(equal, why)
    std_error = np.sqrt((BLOCKS - 1) / BLOCKS * ((found - found.mean(axis=0)) ** 2).sum(axis=0))
    if (std_error > LARGEST_ERROR).any():
        return Spread(equal, why)
    between = max(0.0, float((whole**2).mean() - (std_error**2).mean()))
    shrunk = whole * between / (between + std_error**2) if between > 0 else 0.0 * whole
    slopes = np.exp(shrunk)
    return Spread(slopes / slopes.mean(), "")


def _shared(marks: Marks) -> pd.DataFrame:
    """Return marks of three or more raters, a row a rep and criterion and a column a rater."""
    block = marks.play.codes * BLOCKS // max(marks.play.n, 1)
    long = pd.DataFrame(
        {
            "player": marks.player.codes,
            "play": marks.play.codes,
            "criterion": marks.criterion.codes,
            "block": block,
            "rater": marks.rater.codes,
            "score": marks.score,
        }
    )
    keys = ["player", "play", "criterion", "block"]
    wide = long.pivot(index=keys, columns="rater", values="score")  # noqa: PD010  it refuses repeated keys
    wide = wide.loc[wide.notna().sum(axis=1) >= 3]
    return wide.reset_index(level="block").reset_index(level="criterion")


def _log_slopes(table: pd.DataFrame, n: int) -> FloatArray | None:
    """Log slopes with mean 0, or None where they cannot be told."""
    rows, logs, weights, triples = [], [], [], 0
    for triple in combinations(range(n), 3):
        marked = table.dropna(subset=list(triple)) if set(triple) <= set(table.columns) else table.iloc[:0]
        if len(marked) < LEAST_SHARED:
            continue
        values = marked[list(triple)] - marked.groupby("criterion")[list(triple)].transform("mean")
        covariance = values.cov().to_numpy()
        pairs = [(0, 1), (0, 2), (1, 2)]
        if min(covariance[pair] for pair in pairs) <= 0:
            continue
        for i, j in pairs:
            row = {triple[i]: 1.0, triple[j]: 1.0, n + triples: 1.0}
            rows.append(row)
            logs.append(np.log(covariance[i, j]))
            noise = (covariance[i, i] * covariance[j, j] / covariance[i, j] ** 2 + 1) / len(marked)
            weights.append(1 / np.sqrt(noise))
        triples += 1
    if not rows or len({r for row in rows for r in row if r < n}) < n:
        return None
    design = np.zeros((len(rows) + 1, n + triples))
    for k, row in enumerate(rows):
        design[k, list(row)] = np.array(list(row.values())) * weights[k]
    design[-1, :n] = max(weights)  # the unit
    right = np.append(np.array(logs) * weights, 0.0)
    found, _, rank, _ = np.linalg.lstsq(design, right, rcond=1e-10)
    return np.asarray(found[:n], dtype=np.float64) if rank == n + triples else None


def _average_rep(marks: Marks) -> FloatArray:
    """(n_raters,) mark that each rater gives an average player on an average criterion: additive fit."""
    shape = (marks.rater.n, marks.player.n, marks.criterion.n)
    key = np.ravel_multi_index((marks.rater.codes, marks.player.codes, marks.criterion.codes), shape)
    count = np.bincount(key, minlength=int(np.prod(shape)))
    seen = np.flatnonzero(count)
    root = np.sqrt(count[seen])
    codes = np.unravel_index(seen, shape)
    design = np.concatenate([np.eye(n)[code] for n, code in zip(shape, codes, strict=True)], axis=1)
    mean = np.bincount(key, marks.score, minlength=count.size)[seen] / count[seen]
    fit = np.linalg.lstsq(design * root[:, None], mean * root, rcond=1e-10)[0]
    rater, player, criterion = np.split(fit, np.cumsum(shape[:2]))
    return np.asarray(rater + player.mean() + criterion.mean(), dtype=np.float64)
