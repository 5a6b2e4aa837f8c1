"""Severity-adjusted player grades with intervals, and how severe each rater is."""

from lbeval.fit.ratings.marks import OVERALL
from lbeval.fit.ratings.rating import fit_ratings
from lbeval.fit.ratings.result import GameRow, GradeRow, RaterRow, RatingsFit

__all__ = ["OVERALL", "GameRow", "GradeRow", "RaterRow", "RatingsFit", "fit_ratings"]
