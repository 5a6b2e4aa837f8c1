"""REML for Gaussian linear mixed models with many crossed random effects on unbalanced data.

y = Xb + sum_k Z_k u_k + e: u_k independent normal by level, with a variance or a 2x2 covariance matrix
of intercept and slope; e normal with one variance, or one for each residual group. Rows are collapsed once
(`collapse`); fitting (`fit_reml`) and solving at given variances (`evaluate`) no longer depend on their
number.

Patterson & Thompson (1971, Biometrika 58, 545); Henderson (1975, Biometrics 31, 423); Gilmour, Thompson &
Cullis (1995, Biometrics 51, 1440).
"""

from lbeval.stats.reml.cells import CellSums, collapse
from lbeval.stats.reml.newton import RemlFit, fit_reml
from lbeval.stats.reml.profile import profile
from lbeval.stats.reml.rows import Term
from lbeval.stats.reml.solution import Solution, evaluate
from lbeval.stats.reml.variances import parameter_names

__all__ = [
    "CellSums",
    "RemlFit",
    "Solution",
    "Term",
    "collapse",
    "evaluate",
    "fit_reml",
    "parameter_names",
    "profile",
]
