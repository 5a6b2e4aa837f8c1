"""The tackle log and the tally of events: drawn from the quality that the marks were drawn from."""

from __future__ import annotations

import numpy as np
import pandas as pd

from data_demo.maker.effects import STRING, Array, stream
from data_demo.maker.marks import Marks
from data_demo.maker.plays import Film, Flags, Words
from data_demo.maker.rubric import INDEX
from data_demo.maker.world import GAMES, PLAYERS

MISS_BY_APPROACH = {"straight_on": 0.0, "angle": 0.06, "pursuit": 0.14}
FAULT_CUT = {"head_down": -1.30, "arms_only": -1.05, "legs_stall": -1.15, "feet_race": -1.05}
FAULT_OF = {"head_down": "eyes_up", "arms_only": "wrap", "legs_stall": "leg_drive", "feet_race": "approach"}
FAULT_COST = {"head_down": 0.22, "arms_only": 0.30, "legs_stall": 0.12, "feet_race": 0.22}
YARDS = {"head_down": 0.6, "arms_only": 1.0, "legs_stall": 1.6, "feet_race": 0.4}
FIRST_HALF_SCORER, SECOND_HALF_SCORER = "rusk", "thackray"


def log_tackles(seed: int, film: Film, marks: Marks) -> pd.DataFrame:
    """Return one row a tackle attempt in a game: rep, outcome, approach, faults, yards, head, scorer."""
    rng = stream(seed, 5)
    counts = _in_games(film) & film.reps["attempt"].to_numpy()
    rep = np.flatnonzero(counts)
    reps = film.reps.iloc[rep]
    against = marks.quality[rep] - marks.level
    fault = {name: against[:, INDEX[of]] < FAULT_CUT[name] for name, of in FAULT_OF.items()}
    approach = reps["approach"].to_numpy(dtype=object)
    chance = 0.04 + np.array([MISS_BY_APPROACH[a] for a in approach])
    for name, cost in FAULT_COST.items():
        chance = chance + cost * fault[name]
    credit = reps["credit"].to_numpy(dtype=object)
    missed = (credit == "") | (rng.random(len(rep)) < np.minimum(chance, 0.9) * 0.75)
    fault |= _second_faults(rng, fault, approach, missed)
    yards = rng.poisson(0.8, len(rep)) + np.where(missed, 3 + rng.geometric(0.2, len(rep)), 0)
    for name, more in YARDS.items():
        yards = yards + rng.poisson(more, len(rep)) * fault[name]
    order = sorted(fault)
    faults = [";".join(name for name in order if fault[name][i]) for i in range(len(rep))]
    head = np.where(fault["head_down"], "down", "up").astype(object)
    head[(rng.random(len(rep)) < 0.05) & ~fault["head_down"]] = ""
    early = reps["session"].to_numpy() < GAMES[6]
    return pd.DataFrame(
        {
            "rep": rep,
            "outcome": np.where(missed, "miss", credit),
            "approach": approach,
            "faults": faults,
            "yards": yards,
            "head": head,
            "scorer": np.where(early, FIRST_HALF_SCORER, SECOND_HALF_SCORER).astype(object),
        }
    )


def _second_faults(
    rng: np.random.Generator, fault: dict[str, Flags], approach: Words, missed: Flags
) -> dict[str, Flags]:
    """Add the faults that come in chains: racing feet lead to a crossover, pursuit ends a step behind."""
    crosses = fault["feet_race"] & (rng.random(len(missed)) < 0.4)
    behind = (approach == "pursuit") & (rng.random(len(missed)) < np.where(missed, 0.45, 0.10))
    return {"crosses_over": crosses, "step_behind": behind}


def _in_games(film: Film) -> Flags:
    nullified = film.plays["nullified"].to_numpy(dtype=bool)[film.reps["play"]]
    return np.asarray(np.isin(film.reps["session"], GAMES) & ~nullified, dtype=bool)


def log_events(seed: int, film: Film, marks: Marks, tackles: pd.DataFrame) -> pd.DataFrame:
    """Return one row an event in a game: session, play (row of the snaps, -1 for none), player, kind."""
    rng = stream(seed, 6)
    rep = np.flatnonzero(_in_games(film))
    against = (marks.quality - marks.level)[rep]
    occurs = film.occurs[rep]

    def below(criteria: tuple[str, ...], cut: float) -> Flags:
        columns = [INDEX[c] for c in criteria]
        return np.asarray(((against[:, columns] < cut) & occurs[:, columns]).any(axis=1), dtype=bool)

    def above(criterion: str, cut: float) -> Flags:
        return np.asarray((against[:, INDEX[criterion]] > cut) & occurs[:, INDEX[criterion]], dtype=bool)

    luck = rng.random(len(rep))
    kinds: dict[str, Array | Flags] = {
        "missed_assignment": below(("run_fit", "zone_drop", "man_coverage", "blitz"), -1.15),
        "mental_error": below(("alignment", "communication"), -1.55),
        "loaf": below(("pursuit",), -1.25),
        "penalty": luck < 0.005,
        "pressure": above("blitz", 0.35),
        "break_up": above("man_coverage", 0.9) | above("zone_drop", 1.2),
        "takeaway": above("finish", 0.7),
    }
    parts = [_of_reps(film, rep[np.asarray(hit, dtype=bool)], kind) for kind, hit in kinds.items()]
    solo = tackles.loc[(tackles["outcome"] == "solo") & (tackles["yards"] == 0), "rep"].to_numpy()
    by_run = (film.plays["play_type"] == "run").to_numpy()[film.reps["play"].to_numpy()[solo]]
    parts += [_of_reps(film, solo[by_run & (rng.random(len(solo)) < 0.45)], "tackle_for_loss")]
    blitzed = film.reps["assignment"].to_numpy()[solo] == "blitz"
    parts += [_of_reps(film, solo[~by_run & blitzed], "sack"), _kicking(rng)]
    found = pd.concat(parts, ignore_index=True)
    return found.sort_values(["session", "play", "player", "kind"], ignore_index=True)


def _of_reps(film: Film, rep: np.typing.NDArray[np.intp], kind: str) -> pd.DataFrame:
    reps = film.reps.iloc[rep]
    found = reps[["session", "play", "player"]].reset_index(drop=True)
    return found.assign(kind=kind)


def _kicking(rng: np.random.Generator) -> pd.DataFrame:
    """Return snaps in the kicking game: mostly second and third string, without a clip."""
    mean = np.array([1.0 if s == 0 else 5.0 for s in STRING])
    counts = rng.poisson(mean, (len(GAMES), len(PLAYERS)))
    session = np.repeat(np.repeat(GAMES, len(PLAYERS)), counts.ravel())
    player = np.repeat(np.tile(np.arange(len(PLAYERS)), len(GAMES)), counts.ravel())
    return pd.DataFrame({"session": session, "play": -1, "player": player, "kind": "special_teams_snap"})
