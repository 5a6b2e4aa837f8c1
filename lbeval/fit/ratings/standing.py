"""Who stands where: rank bands, pairs that can be told apart, tiers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lbeval.fit.ratings.marks import FloatArray, IntArray
from lbeval.stats.ranks import clearly_ahead, rank_bands, tiers

PAIRS_LEVEL = 0.95


@dataclass(frozen=True, eq=False)
class Standing:
    """Frames `pairs` and `tiers` of `RatingsFit`."""

    pairs: pd.DataFrame
    tiers: pd.DataFrame


def find_standing(
    ids: tuple[str, ...], estimate: FloatArray, draws: FloatArray, sets: IntArray, level: float
) -> Standing:
    """Rank the players with a grade.

    Parameters
    ----------
    ids, estimate
        (n,) players with a grade, and their grades.
    draws
        (n_draws, n) joint draws.
    sets
        (n,) linked set of each; nobody is ranked, and nobody ahead across sets, if there are several.
    level
        Of the bands and of a single pair's interval.
    """
    if not ids:
        return Standing(_pairs_frame([]), _tiers_frame([], [], [], []))
    ahead = clearly_ahead(estimate, draws, PAIRS_LEVEL)
    order = np.argsort(-estimate, kind="stable")
    rows = []
    for place, i in enumerate(order):
        for j in order[place + 1 :]:
            apart = draws[:, i] - draws[:, j]
            low, high = np.quantile(apart, [(1 - level) / 2, (1 + level) / 2])
            linked = sets[i] == sets[j]
            rows.append(
                (
                    *(ids[i], ids[j], estimate[i] - estimate[j], apart.std(ddof=1), low, high),
                    *((apart > 0).mean(), bool(ahead[i, j] and linked), "" if linked else "not_linked"),
                )
            )
    if np.unique(sets).size > 1:
        return Standing(_pairs_frame(rows), _tiers_frame([], [], [], []))
    low, high = rank_bands(draws, level)
    return Standing(_pairs_frame(rows), _tiers_frame(ids, tiers(estimate, ahead), low, high))


def _pairs_frame(rows: Sequence[tuple[object, ...]]) -> pd.DataFrame:
    kinds = {
        "player_id": "str",
        "other_id": "str",
        "estimate": "float64",
        "std_error": "float64",
        "conf_low": "float64",
        "conf_high": "float64",
        "prob_ahead": "float64",
        "ahead": "bool",
        "note": "str",
    }
    return pd.DataFrame(rows, columns=list(kinds)).astype(kinds)


def _tiers_frame(ids: object, tier: object, low: object, high: object) -> pd.DataFrame:
    frame = pd.DataFrame({"player_id": ids, "tier": tier, "rank_low": low, "rank_high": high})
    return frame.astype({"player_id": "str", "tier": "int64", "rank_low": "int64", "rank_high": "int64"})
