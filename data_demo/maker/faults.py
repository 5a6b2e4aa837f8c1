"""The faulty season: the full one, most practices left away, with every kind of dirt planted and listed."""

from __future__ import annotations

from pathlib import Path

from data_demo.maker import faults_files as files
from data_demo.maker import faults_grades as grades
from data_demo.maker.faults_fourth import plant_fourth_coach, write_disguised
from data_demo.maker.film_files import CLIPS, JOBS
from data_demo.maker.grade_files import QUELL, RUSK, last_first
from data_demo.maker.paper import Paper, write_paper
from data_demo.maker.planting import Planter
from data_demo.maker.practice_files import DRILLS
from data_demo.maker.season import SimulatedSeason
from data_demo.maker.settings import faulty_season_toml, rubric_toml, source_text
from data_demo.maker.tables import play_ids
from data_demo.maker.world import GAMES, PLAYERS, SESSIONS
from data_demo.maker.write import empty_folder, full_papers, settle, settled_paper, write_text

KEPT_PRACTICES = ("Spring 01", "Spring 02", "Spring 03", "Camp 01", "Camp 02")


def write_faulty(folder: Path, season: SimulatedSeason) -> None:
    """Write the faulty season into `folder`, which is emptied before, and `planted.csv` beside its files."""
    empty_folder(folder)
    planter = Planter({paper.file: _shortened(paper) for paper in full_papers(season)})
    settled = settled_paper([*planter.papers.values()])
    grades.plant_in_rusk(planter)
    _plant_on_film(planter, season)
    grades.plant_in_thackray(planter)
    grades.plant_play_range(planter, season)
    grades.plant_in_quell(planter, season)
    files.plant_in_film(planter)
    files.plant_in_tests(planter)
    files.plant_prospects(planter)
    plant_fourth_coach(planter, season)
    files.extra_papers(planter)
    for paper in (*planter.papers.values(), settled):
        write_paper(folder, paper)
    files.write_strays(folder, planter)
    write_disguised(folder, planter, season)
    write_text(folder / "remarks.md", source_text("remarks.md") + _REMARKS)
    number = source_text("remarks.md").count("\n") + 4
    planter.note(
        ("remarks.md", "", number, 0), "Big Teo", "set_aside", "unknown_player", "remark on a nickname"
    )
    write_text(folder / "season.toml", faulty_season_toml())
    write_text(folder / "rubric.toml", rubric_toml())
    files.write_planted(folder, planter)
    settle(folder)


_REMARKS = "\n# Big Teo\n\nSee above. *Stars*, <tags>, $dollars$ and #hashes are only signs.\n"


def _shortened(paper: Paper) -> Paper:
    """Take most practices out of the long files, so that the folder stays small."""
    if paper.file in {RUSK, QUELL, JOBS, CLIPS, DRILLS}:
        head, *rows = paper.rows
        dropped = {s.label for s in SESSIONS if s.phase != "game"} - set(KEPT_PRACTICES)
        paper.sheets[0].rows = [head, *(row for row in rows if row[0] not in dropped)]
    return paper


def _plant_on_film(planter: Planter, season: SimulatedSeason) -> None:
    """Plant marks on a nullified play and for a player who was not on the field."""
    plays, reps = season.film.plays, season.film.reps
    ids = play_ids(season.film)
    wiped = int(plays.index[plays["nullified"]][0])
    on = reps.loc[reps["play"] == wiped, "player"].iloc[0]
    label = SESSIONS[plays["session"].iloc[wiped]].label
    grades.plant_on_nullified(planter, int(plays["clip"].iloc[wiped]), label, last_first(PLAYERS[on]))
    place = int(plays.index[(plays["session"] == GAMES[1]) & ~plays["nullified"]][4])
    absent = next(p for p in range(len(PLAYERS)) if p not in set(reps.loc[reps["play"] == place, "player"]))
    clip, held = int(plays["clip"].iloc[place]), SESSIONS[GAMES[1]]
    assert ids[place].startswith(held.game_id)
    player = PLAYERS[absent]
    grades.plant_off_field(planter, held.label, clip, last_first(player), player.player_id)
