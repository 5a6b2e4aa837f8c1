"""What is reported, as weights of the model's effects: grades, criteria, games, severities."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lbeval.fit.ratings.design import Design
from lbeval.fit.ratings.marks import OVERALL, FloatArray, IntArray, Marks


@dataclass(frozen=True, eq=False)
class Targets:
    """Rows of weights over the fixed effects and the coarse terms, in blocks.

    Attributes
    ----------
    weights
        (t, n) over the columns of `Equations`: fixed effects, then the coarse terms.
    blocks
        Name -> rows: a group (or `overall`) with one row a player; `criterion` with one row a player and
        criterion, criteria running fastest; `game` in the order of `played`; `rater`.
    played
        (k, 2) player and game of each row of `game`: the games in which he has a mark.
    n_joint
        Rows, from the first, that are drawn together: overall and the groups.
    """

    weights: FloatArray
    blocks: dict[str, slice]
    played: IntArray
    n_joint: int


def build_targets(marks: Marks, design: Design) -> Targets:
    """Write down every reported quantity.

    The adjusted grade is the expected mark over the rubric with its weights w, as the average of this
    staff's raters would have given it, over the games he played::

        θ_p = Σ_c w_c (μ_c + mean_r rc + p + pc) + mean_r pr + mean over his games of pg

    A group has w restricted to it; a criterion w = 1; a game has its own pg in place of the mean; a rater's
    severity is r + mean_c rc, centred over the raters he can be compared with. The game's main effect and
    the play are left out: a grade is against the room on an average day.
    """
    columns = _Columns(design)
    groups = [g for g in (OVERALL, *marks.groups) if marks.weights_of(g).any()]
    played = marks.played
    rows = {g: _players(marks, design, columns, marks.weights_of(g), played) for g in groups}
    each = np.eye(marks.criterion.n)
    by_criterion = [_players(marks, design, columns, one, played) for one in each]
    rows["criterion"] = np.stack(by_criterion, axis=1).reshape(-1, columns.n)
    rows["game"] = _games(marks, columns, rows[OVERALL], played)
    rows["rater"] = _raters(marks, design, columns)
    edges = np.cumsum([0, *(block.shape[0] for block in rows.values())])
    return Targets(
        weights=np.concatenate(list(rows.values())),
        blocks={name: slice(a, b) for name, (a, b) in zip(rows, pairwise(edges.tolist()), strict=True)},
        played=played,
        n_joint=len(groups) * marks.player.n,
    )


class _Columns:
    """Places of the effects among the columns of the equations."""

    def __init__(self, design: Design) -> None:
        edges = np.cumsum([design.x.shape[1], *(t.n_levels for t in design.coarse)]).tolist()
        self.n: int = edges[-1]
        self.n_fixed = design.x.shape[1]
        self._start = {t.name: start for t, start in zip(design.coarse, edges[:-1], strict=True)}

    def add(self, into: FloatArray, term: str, levels: IntArray, weight: FloatArray | float) -> None:
        """Add `weight` at (row, level) of a term; nothing where the term is not in the model."""
        if term in self._start:
            rows = np.arange(into.shape[0])
            rows = rows[:, None] if levels.ndim == 2 else rows
            np.add.at(into, (rows, self._start[term] + levels), weight)


def _players(
    marks: Marks, design: Design, columns: _Columns, weights: FloatArray, played: IntArray
) -> FloatArray:
    """(n_players, n) rows of θ for these criterion weights."""
    n_p, n_r, n_g, n_c = marks.player.n, marks.rater.n, marks.game.n, marks.criterion.n
    player, rater, criterion = np.arange(n_p), np.arange(n_r), np.arange(n_c)
    rows = np.zeros((n_p, columns.n))
    rows[:, :n_c] = weights
    rows[:, n_c : columns.n_fixed] = design.contrasts.mean(axis=0)
    columns.add(rows, "player", player, 1.0)
    columns.add(rows, "player:criterion", player[:, None] * n_c + criterion, weights)
    pairs = (rater[:, None] * n_c + criterion).ravel()
    columns.add(rows, "rater:criterion", np.tile(pairs, (n_p, 1)), np.tile(weights / n_r, n_r))
    columns.add(rows, "player:rater", player[:, None] * n_r + rater, 1.0 / n_r)
    share = np.zeros((n_p, n_g))
    share[played[:, 0], played[:, 1]] = 1.0
    share /= share.sum(axis=1, keepdims=True)
    columns.add(rows, "player:game", player[:, None] * n_g + np.arange(n_g), share)
    return rows


def _games(marks: Marks, columns: _Columns, overall: FloatArray, played: IntArray) -> FloatArray:
    rows = overall[played[:, 0]].copy()
    n_g = marks.game.n
    his = played[:, :1] * n_g + np.arange(n_g)
    count = np.bincount(played[:, 0], minlength=marks.player.n)
    took_part = np.zeros((marks.player.n, n_g))
    took_part[played[:, 0], played[:, 1]] = 1.0
    share = (took_part / count[:, None])[played[:, 0]]
    columns.add(rows, "player:game", his, -share)
    columns.add(rows, "player:game", played[:, 0] * n_g + played[:, 1], 1.0)
    return rows


def _raters(marks: Marks, design: Design, columns: _Columns) -> FloatArray:
    n_r, n_c = marks.rater.n, marks.criterion.n
    rows = np.zeros((n_r, columns.n))
    rows[:, n_c : columns.n_fixed] = design.contrasts
    same = (design.rater_set[:, None] == design.rater_set).astype(np.float64)
    centred = np.eye(n_r) - same / same.sum(axis=1, keepdims=True)
    levels = np.tile(np.arange(n_r * n_c), (n_r, 1))
    columns.add(rows, "rater:criterion", levels, np.repeat(centred, n_c, axis=1) / n_c)
    return rows
