"""Season in, ratings out: the order in which a rating is made."""

from __future__ import annotations

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from lbeval.errors import FitError
from lbeval.fit.ratings.caveats import (
    SILENT,
    Links,
    find_links,
    note_criteria,
    note_games,
    note_grades,
    note_raters,
    write_notes,
)
from lbeval.fit.ratings.counts import count_criteria, count_games, count_groups, count_raters
from lbeval.fit.ratings.design import Design, build_design
from lbeval.fit.ratings.marks import OVERALL, FloatArray, Marks, select_marks
from lbeval.fit.ratings.model import Model, fit_model
from lbeval.fit.ratings.result import RatingsFit
from lbeval.fit.ratings.spread import Spread, estimate_spread
from lbeval.fit.ratings.standing import PAIRS_LEVEL, Standing, find_standing
from lbeval.fit.ratings.targets import Targets, build_targets
from lbeval.settings import Rubric, SeasonSettings

ESTIMATES = ["estimate", "std_error", "conf_low", "conf_high"]


def fit_ratings(
    grades: pd.DataFrame,
    games: pd.DataFrame,
    players: pd.DataFrame,
    rubric: Rubric,
    settings: SeasonSettings,
    *,
    rng: np.random.Generator,
    n_draws: int = 10_000,
) -> RatingsFit:
    """Rate the roster's players on the season's games, adjusted for who graded them.

    Marks y from 0 to 1 of player p, rater r, game g, play s and criterion c follow::

        y = μ_c + r + p + g + s + pr + pg + rg + pc + rc + ps + rps + psc + e_r

    with criteria and raters fixed (raters sum to zero), all else random and normal, and a residual variance
    for each rater; terms these marks cannot carry are left out by rule and named. Components are REML
    (Patterson & Thompson 1971), predictions Henderson's (1975), and grades are averaged over the uncertainty
    of the variances of p, g and the two-way interactions. Where three raters marked the same reps, their
    spreads are made alike first (`estimate_spread`).

    Parameters
    ----------
    grades, games, players
        Tables of the same names; only marks that `select_marks` counts are used.
    rubric, settings
        Weights and groups; the confidence level, the floors of film and the raters' names.
    rng
        For the draws.
    n_draws
        Joint draws of the grades.

    Raises
    ------
    FitError
        When there is no mark that counts.
    """
    marks = select_marks(grades, games, players, rubric)
    roster = players.loc[players["status"] == "roster", "player_id"].tolist()
    design = build_design(marks)
    targets = build_targets(marks, design)
    links = find_links(marks, design.rater_set)
    spread = estimate_spread(marks)
    why_none = _why_none(marks, design)
    model = None if why_none else _fit(spread.rescale(marks), design, targets, rng)
    if model is None and not why_none:
        why_none = "not_fitted"
    found = _estimates(model, targets, settings.house.confidence)

    rated = _rate_groups(marks, roster, found, targets)
    rated["note"] = note_grades(rated, links, marks, settings.house, why_none=why_none)
    rated = _silence(rated)
    draws = _draw(model, marks, targets, rated, n_draws, rng)
    standing = _stand(rated, draws, marks, links, settings.house.confidence)
    names = {key: one.name for key, one in settings.raters.items()}
    return RatingsFit(
        grades=rated.merge(standing.tiers.assign(group=OVERALL), how="left", on=["player_id", "group"]),
        criteria=_rate_criteria(marks, roster, found, targets, rated, links, settings),
        games=_rate_games(marks, games, found, targets, rated, links),
        raters=_rate_raters(marks, found, targets, design, links, spread, model),
        components=_components(design, model, marks),
        pairs=standing.pairs,
        tiers=standing.tiers,
        draws=draws,
        model=_one_row(marks, design, links, spread, model, settings.house.confidence),
        level=settings.house.confidence,
        pairs_level=PAIRS_LEVEL,
        terms=tuple(t.name for t in design.terms),
        notes=write_notes(marks, links, design.left_out, spread.why_equal, names, fitted=model is not None),
    )


def _why_none(marks: Marks, design: Design) -> str:
    """Say why there can be no model: marks that are all alike, or each player with raters of his own."""
    if _marks_alike(marks):
        return "marks_alike"
    if marks.player.n > 1 and all(term.name != "player" for term in design.coarse):
        return "not_linked"
    return "" if marks.n > design.x.shape[1] + 1 else "not_enough_film"


def _fit(scores: FloatArray, design: Design, targets: Targets, rng: np.random.Generator) -> Model | None:
    """Return the fitted model, or None where these marks are too few or too odd for one."""
    try:
        with threadpool_limits(limits=1, user_api="blas"):  # the matrices are small; more threads only wait
            return fit_model(scores, design, targets, rng)
    except FitError:
        return None


def _marks_alike(marks: Marks) -> bool:
    """Whether each rater gave each criterion one and the same mark throughout."""
    cell = marks.rater.crossed(marks.criterion)
    first = np.full(marks.rater.n * marks.criterion.n, np.nan)
    first[cell[::-1]] = marks.score[::-1]
    return bool((marks.score == first[cell]).all())


def _estimates(model: Model | None, targets: Targets, level: float) -> pd.DataFrame:
    """Return a row for each target, in their order."""
    if model is None:
        return pd.DataFrame(np.nan, index=range(targets.weights.shape[0]), columns=ESTIMATES)
    low, high = model.mixture.interval(level)
    values = [model.mixture.estimate, model.mixture.std_error, low, high]
    return pd.DataFrame(dict(zip(ESTIMATES, values, strict=True)))


def _block(found: pd.DataFrame, targets: Targets, name: str, **ids: object) -> pd.DataFrame:
    """Return one block of targets with its ids in front."""
    block = found.iloc[targets.blocks[name]].reset_index(drop=True)
    return pd.DataFrame({**{k: pd.Series(v, dtype="str") for k, v in ids.items()}, **block})


def _silence(frame: pd.DataFrame) -> pd.DataFrame:
    frame.loc[frame["note"].isin(SILENT), ESTIMATES] = np.nan
    return frame


def _rate_groups(marks: Marks, roster: list[str], found: pd.DataFrame, targets: Targets) -> pd.DataFrame:
    counts = count_groups(marks, roster)
    groups = [name for name in targets.blocks if name in (OVERALL, *marks.groups)]
    blocks = [_block(found, targets, g, player_id=marks.player.ids).assign(group=g) for g in groups]
    frame = counts.merge(pd.concat(blocks), on=["player_id", "group"], how="left", validate="one_to_one")
    return frame[["player_id", "group", *ESTIMATES, *counts.columns[2:]]]


def _rate_criteria(
    marks: Marks,
    roster: list[str],
    found: pd.DataFrame,
    targets: Targets,
    rated: pd.DataFrame,
    links: Links,
    settings: SeasonSettings,
) -> pd.DataFrame:
    counts = count_criteria(marks, roster)
    block = _block(
        found,
        targets,
        "criterion",
        player_id=np.repeat(np.array(marks.player.ids, dtype=object), marks.criterion.n),
        criterion=np.tile(np.array(marks.criterion.ids, dtype=object), marks.player.n),
    )
    frame = counts.merge(block, on=["player_id", "criterion"], how="left", validate="one_to_one")
    frame["note"] = note_criteria(frame, rated, links, marks, settings.house)
    order = ["player_id", "criterion", "group", *ESTIMATES, *counts.columns[3:], "note"]
    return _silence(frame[order].copy())


def _rate_games(
    marks: Marks,
    games: pd.DataFrame,
    found: pd.DataFrame,
    targets: Targets,
    rated: pd.DataFrame,
    links: Links,
) -> pd.DataFrame:
    counts = count_games(marks, games)
    block = _block(
        found,
        targets,
        "game",
        player_id=np.array(marks.player.ids, dtype=object)[targets.played[:, 0]],
        game_id=np.array(marks.game.ids, dtype=object)[targets.played[:, 1]],
    )
    frame = counts.merge(block, on=["player_id", "game_id"], how="left", validate="one_to_one")
    frame["note"] = note_games(frame, rated, links, marks)
    order = ["player_id", "game_id", "order", "opponent", "label", *ESTIMATES]
    order += ["raw", "raw_simple", "n_plays", "n_raters", "n_obs", "note"]
    return _silence(frame[order].copy())


def _rate_raters(
    marks: Marks,
    found: pd.DataFrame,
    targets: Targets,
    design: Design,
    links: Links,
    spread: Spread,
    model: Model | None,
) -> pd.DataFrame:
    counts = count_raters(marks)
    block = _block(found, targets, "rater", rater_id=marks.rater.ids)
    frame = block.merge(counts, on="rater_id", how="left", validate="one_to_one")
    group = np.zeros(marks.rater.n, dtype=np.int64)
    group[marks.rater.codes] = design.noise
    frame["spread"] = spread.slopes
    frame["noise"] = np.nan if model is None else np.sqrt(model.reml.residual[group]) * spread.slopes
    frame["note"] = pd.Series(note_raters(links, marks, design.rater_set), dtype="str")
    frame.loc[frame["note"].isin(["one_rater", "not_linked"]), ESTIMATES] = np.nan
    order = ["rater_id", *ESTIMATES, "spread", "noise", "raw", "n_obs", "n_plays", "n_players", "n_games"]
    return frame[[*order, "n_shared", "note"]]


def _components(design: Design, model: Model | None, marks: Marks) -> pd.DataFrame:
    """Return variances by REML; the residual is the mean over the marks of the raters' own."""
    rows: list[tuple[str, float, float, int, str]] = []
    if model is not None:
        reml = model.reml
        variance = np.diag(reml.parameter_cov)
        known = np.sqrt(np.where(variance > 0, variance, np.nan))
        errors = dict(zip(reml.parameter_names, known, strict=True))
        rows = [
            (t.name, reml.components[t.name], float(errors[t.name]), t.n_levels, "") for t in design.terms
        ]
        rows.append(("residual", float(reml.residual[design.noise].mean()), np.nan, marks.n, ""))
    rows += [(name, np.nan, np.nan, 0, f"not_identified: {why}") for name, why in design.left_out.items()]
    frame = pd.DataFrame(rows, columns=["term", "estimate", "std_error", "n_levels", "note"])
    frame.insert(3, "share", frame["estimate"] / frame["estimate"].sum())
    kinds = {"term": "str", "estimate": "float64", "std_error": "float64", "share": "float64"}
    return frame.astype({**kinds, "n_levels": "int64", "note": "str"})


def _graded(rated: pd.DataFrame, group: str) -> list[str]:
    return rated.loc[(rated["group"] == group) & rated["estimate"].notna(), "player_id"].tolist()


def _draw(
    model: Model | None,
    marks: Marks,
    targets: Targets,
    rated: pd.DataFrame,
    n_draws: int,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Return joint draws, NaN where a player has no grade in a group."""
    shown = _graded(rated, OVERALL)
    if model is None:
        return pd.DataFrame({"draw": np.zeros(0, dtype=np.int64), "group": pd.Series([], dtype="str")})
    drawn = model.mixture.draws(n_draws, rng)
    parts = []
    for group in targets.blocks:
        if group in (OVERALL, *marks.groups):
            values = pd.DataFrame(drawn[:, targets.blocks[group]], columns=list(marks.player.ids))[shown]
            values[[one for one in shown if one not in set(_graded(rated, group))]] = np.nan
            values.insert(0, "draw", np.arange(n_draws))
            values.insert(1, "group", pd.Series(group, index=values.index, dtype="str"))
            parts.append(values)
    return pd.concat(parts, ignore_index=True)


def _stand(rated: pd.DataFrame, draws: pd.DataFrame, marks: Marks, links: Links, level: float) -> Standing:
    ids = tuple(_graded(rated, OVERALL))
    overall = rated.loc[rated["group"] == OVERALL].set_index("player_id")["estimate"]
    sets = np.array([links.of_player[marks.player.ids.index(one)] for one in ids], dtype=np.int64)
    values: FloatArray = draws.loc[draws["group"] == OVERALL, list(ids)].to_numpy(dtype=np.float64)
    return find_standing(ids, overall.loc[list(ids)].to_numpy(dtype=np.float64), values, sets, level)


def _one_row(
    marks: Marks, design: Design, links: Links, spread: Spread, model: Model | None, level: float
) -> pd.DataFrame:
    row = {
        "n_obs": marks.n,
        "n_players": marks.player.n,
        "n_raters": marks.rater.n,
        "n_games": marks.game.n,
        "n_plays": marks.play.n,
        "n_criteria": marks.criterion.n,
        "level": level,
        "log_likelihood": np.nan if model is None else model.reml.loglik,
        "n_terms": len(design.terms),
        "dropped": ", ".join(design.left_out),
        "linked": links.linked,
        "equal_spread": bool(spread.why_equal),
        "converged": model is not None and model.reml.converged,
        "n_effective": np.nan if model is None else model.effective,
    }
    return pd.DataFrame([row])
