"""The rating model's terms: which of them these marks can carry, and the fixed effects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lbeval.fit.ratings.marks import Factor, FloatArray, IntArray, Marks
from lbeval.stats.reml import Term

FINE = ("play", "player:play", "rater:player:play", "player:play:criterion")
LEAST_REPEATED = 20  # reps marked twice below which their variance is anybody's guess
LEAST_FREE = 2  # degrees of freedom that an interaction of few levels needs
LEAST_AVERAGED = 12  # degrees of freedom below which a flat prior says more on a variance than the marks do
LEAST_OF_RATER = 30  # marks below which a rater has no noise of his own


@dataclass(frozen=True, eq=False)
class Design:
    """Fixed effects, random terms and residual groups of the rating model.

    Attributes
    ----------
    x
        (n, n_criteria + k) criterion means, then rater contrasts.
    contrasts
        (n_raters, k) rater main effects in terms of the contrasts; they sum to zero over each set of raters
        that can be compared.
    rater_set
        (n_raters,) set of raters that marked criteria in common, directly or through others.
    coarse, fine
        Terms of few levels, whose variances are averaged over, and terms of single plays.
    left_out
        Term -> why these marks cannot carry it.
    averaged
        Names of the coarse terms whose variances are averaged over: the players' always, the others where
        they have at least twelve degrees of freedom.
    noise
        (n,) residual group.
    """

    x: FloatArray
    contrasts: FloatArray
    rater_set: IntArray
    coarse: tuple[Term, ...]
    fine: tuple[Term, ...]
    left_out: dict[str, str]
    averaged: frozenset[str]
    noise: IntArray

    @property
    def terms(self) -> tuple[Term, ...]:
        """All random terms."""
        return (*self.coarse, *self.fine)


def build_design(marks: Marks) -> Design:
    """Choose the terms by rule.

    An interaction of two factors enters when its cells leave at least two degrees of freedom beside both
    main effects; a term of single plays when at least twenty of its levels are marked more than once in the
    way that tells it from the next finer one. What is left out falls into the next finer term or the
    residual, and is named.
    """
    rater_set = linked_sets(marks.rater, marks.criterion)
    contrasts = _contrasts(rater_set)
    x = np.concatenate(
        [np.eye(marks.criterion.n)[marks.criterion.codes], contrasts[marks.rater.codes]], axis=1
    )
    left_out: dict[str, str] = {}
    coarse = tuple(term for term in _coarse(marks, left_out) if term is not None)
    fine = _fine(marks, left_out)
    kept = _distinct((*coarse, *fine), marks.n, left_out)
    return Design(
        x=x,
        contrasts=contrasts,
        rater_set=rater_set,
        coarse=tuple(term for term in coarse if term.name in kept),
        fine=tuple(term for term in fine if term.name in kept),
        left_out=left_out,
        averaged=_averaged(marks),
        noise=_noise(marks),
    )


def linked_sets(one: Factor, *others: Factor) -> IntArray:
    """(one.n,) number of the connected set of each level, through levels of `others` in common."""
    size = one.n + sum(other.n for other in others)
    rows, cols, start = [], [], one.n
    for other in others:
        rows.append(one.codes)
        cols.append(other.codes + start)
        start += other.n
    at = (np.concatenate(rows), np.concatenate(cols))
    graph = coo_array((np.ones(at[0].size), at), shape=(size, size))
    labels = connected_components(graph, directed=False)[1][: one.n]
    return np.unique(labels, return_inverse=True)[1].astype(np.int64)


def _contrasts(rater_set: IntArray) -> FloatArray:
    """Sum-to-zero contrasts within each set; a rater alone in his set has none."""
    columns = []
    for one in np.unique(rater_set):
        members = np.flatnonzero(rater_set == one)
        for member in members[:-1]:
            column = np.zeros(rater_set.size)
            column[member], column[members[-1]] = 1.0, -1.0
            columns.append(column)
    return np.stack(columns, axis=1) if columns else np.zeros((rater_set.size, 0))


def _coarse(marks: Marks, left_out: dict[str, str]) -> list[Term | None]:
    """Build main effects and two-way interactions."""
    p, r, g, c = marks.player, marks.rater, marks.game, marks.criterion
    return [
        _main("player", p, r, left_out),
        # with one player the game and his own game are the same thing, and it belongs to him
        _main("game", g, r, left_out) if p.n > 1 else None,
        _crossed("player:rater", p, r, left_out),
        _crossed("player:game", p, g, left_out) if p.n > 1 else _main("player:game", g, r, left_out),
        _crossed("rater:game", r, g, left_out),
        _crossed("player:criterion", p, c, left_out),
        _crossed("rater:criterion", r, c, left_out),
    ]


def _averaged(marks: Marks) -> frozenset[str]:
    p, r, g, c = marks.player, marks.rater, marks.game, marks.criterion
    free = {
        "game": g.n - 1,
        "player:rater": _free(p, r),
        "player:game": _free(p, g),
        "rater:game": _free(r, g),
        "player:criterion": _free(p, c),
        "rater:criterion": _free(r, c),
    }
    return frozenset({"player", *(name for name, n in free.items() if n >= LEAST_AVERAGED)})


def _free(one: Factor, other: Factor) -> int:
    """Degrees of freedom that the cells of two factors leave beside both."""
    sets = int(linked_sets(one, other).max()) + 1
    return np.unique(one.crossed(other)).size - one.n - other.n + sets


def _main(name: str, factor: Factor, rater: Factor, left_out: dict[str, str]) -> Term | None:
    if factor.n < 2:
        left_out[name] = "only one in the film"
        return None
    if linked_sets(factor, rater).max() + 1 == factor.n:
        left_out[name] = "each has raters of his own"
        return None
    return Term(name, factor.codes, factor.n)


def _crossed(name: str, one: Factor, other: Factor, left_out: dict[str, str]) -> Term | None:
    if min(one.n, other.n) < 2 or _free(one, other) < LEAST_FREE:
        left_out[name] = "too few combinations to tell it from its parts"
        return None
    return Term(name, one.crossed(other), one.n * other.n)


def _fine(marks: Marks, left_out: dict[str, str]) -> tuple[Term, ...]:
    """Build the terms of single plays."""
    rep, n_reps = _number(marks.player.crossed(marks.play))
    seen, n_seen = _number(rep * marks.rater.n + marks.rater.codes)
    cell, n_cells = _number(rep * marks.criterion.n + marks.criterion.codes)
    reps_of_play = _distinct_within(marks.play.codes, rep, marks.play.n)
    marks_of_rep = np.bincount(rep, minlength=n_reps)
    looks_of_rep = _distinct_within(rep, seen, n_reps)
    looks_of_cell = np.bincount(cell, minlength=n_cells)
    marks_of_seen = np.bincount(seen, minlength=n_seen)
    shared = looks_of_rep > 1
    both = shared[rep[np.unique(seen, return_index=True)[1]]] & (marks_of_seen > 1)
    terms = []
    if _enough("play", int((reps_of_play > 1).sum()), left_out):
        terms.append(Term("play", marks.play.codes, marks.play.n))
    if _enough("player:play", int((marks_of_rep > 1).sum()), left_out):
        terms.append(Term("player:play", rep, n_reps))
        if _enough("rater:player:play", int(both.sum()), left_out):
            terms.append(Term("rater:player:play", seen, n_seen))
    if _enough("player:play:criterion", int((looks_of_cell > 1).sum()), left_out) and marks.criterion.n > 1:
        terms.append(Term("player:play:criterion", cell, n_cells))
    return tuple(terms)


def _noise(marks: Marks) -> IntArray:
    """(n,) residual group: a rater of his own; one with few marks or always the same joins the busiest."""
    n = np.bincount(marks.rater.codes, minlength=marks.rater.n)
    cell = marks.rater.crossed(marks.criterion)
    seen = np.bincount(cell)
    mean = np.bincount(cell, marks.score) / np.maximum(seen, 1)
    spread = np.bincount(marks.rater.codes, (marks.score - mean[cell]) ** 2, minlength=marks.rater.n)
    alone = (n >= LEAST_OF_RATER) & (spread > 1e-4 * spread.sum())
    busiest = int(np.argmax(np.where(alone, n, 0)))
    return _number(np.where(alone, np.arange(marks.rater.n), busiest)[marks.rater.codes])[0]


def _distinct(terms: tuple[Term, ...], n: int, left_out: dict[str, str]) -> set[str]:
    """Names of the terms whose levels group the marks in a way of their own."""
    ways: dict[bytes, str] = {}
    for term in terms:
        first, number = np.unique(term.codes, return_index=True, return_inverse=True)[1:]
        way = first[number]  # each mark's level, named by its first mark
        same = ways.get(way.tobytes())
        if same is not None:
            left_out[term.name] = f"the same as {same} on these marks"
        elif first.size >= n:
            left_out[term.name] = "a level for each mark"
        else:
            ways[way.tobytes()] = term.name
    return set(ways.values())


def _enough(name: str, repeated: int, left_out: dict[str, str]) -> bool:
    if repeated < LEAST_REPEATED:
        left_out[name] = f"only {repeated} of its levels are marked more than once"
    return repeated >= LEAST_REPEATED


def _number(codes: IntArray) -> tuple[IntArray, int]:
    found, number = np.unique(codes, return_inverse=True)
    return number.astype(np.int64), found.size


def _distinct_within(outer: IntArray, inner: IntArray, n_outer: int) -> IntArray:
    """(n_outer,) count of the different `inner` codes in each `outer` one; `inner` is nested in `outer`."""
    first = np.unique(inner, return_index=True)[1]
    return np.bincount(outer[first], minlength=n_outer)
