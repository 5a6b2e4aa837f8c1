"""Clip list, roles, events, tackles, drills, remarks and people: one row is one entry."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from lbeval.tidy.coverage import coverage
from tests.tidy.folders import CLIPS, LONG, LONG_HEAD, load, only, reasons, write

ROLES = """
[[sources]]
files = ["roles.csv"]
kind = "roles"
columns = {game = "Game", play = "Clip", player = "Player", role = "Role", at_point = "At", blocker = "By"}
"""

TACKLES = """
[[sources]]
files = ["tackles.csv"]
kind = "tackles"
separators = ";/"
values = {outcome = {T = "solo", A = "assist", M = "miss"}}

[sources.columns]
game = "Game"
play = "Clip"
player = "Player"
outcome = "Result"
faults = "Faults"
yards_after_contact = "Yds"
head = "Head"
approach = "How"
scorer = "By"
"""

TACKLE_HEAD = "Game,Clip,Player,Result,Faults,Yds,Head,How,By\n"


def test_clip_list_rows_that_cannot_be_used(tmp_path: Path) -> None:
    rows = (
        CLIPS
        + "Game 1,6,4,1,Ridge Fork,,2025-09-06\nGame 1,6,9,1,Ridge Fork,,2025-09-06\n"
        + "Game 1,x,9,1,,,\n,7,9,1,,,\n"
    )
    season = load(write(tmp_path, clips__csv=rows, marks__csv=LONG_HEAD))
    assert len(season.plays) == 8
    assert reasons(season) == ["duplicate_row", "play_twice", "play_number_unreadable", "game_missing"]


def test_a_session_that_disagrees_with_itself_is_said(tmp_path: Path) -> None:
    rows = CLIPS + "Game 2,4,4,3,Lake,,2025-09-21\n"
    season = load(write(tmp_path, clips__csv=rows, marks__csv=LONG_HEAD))
    assert only(season, "session_disagrees")["value"] == "2025-09-21"
    assert season.games["date"].tolist() == [pd.Timestamp("2025-09-06"), pd.Timestamp("2025-09-20")]


def test_games_of_the_settings_fill_in_and_go_first(tmp_path: Path) -> None:
    games = (
        '\n[games.game-2]\nlabel = "Lake at home"\naliases = ["Game 2"]\nweek = 4\n'
        '\n[games.spring-1]\nlabel = "Spring 1"\nphase = "spring"\ndate = 2025-04-01\n'
    )
    rows = LONG_HEAD + "Marcus Hale,Game 2,1,fit,2,\nMarcus Hale,spring 1,7,fit,2,\n"
    season = load(write(tmp_path, LONG + games, marks__csv=rows))
    table = season.games.set_index("game_id")
    assert list(table.index) == ["spring-1", "game-1", "game-2"]
    assert [table.loc["game-2", name] for name in ("label", "week", "opponent")] == [
        "Lake at home",
        4.0,
        "Lake",
    ]
    assert season.grades["play_id"].tolist() == ["game-2-001", "spring-1-007"]
    assert season.plays.loc[season.plays["game_id"] == "spring-1", "source_file"].tolist() == ["marks.csv"]


def test_without_a_clip_list_plays_and_sessions_come_from_the_sheets(tmp_path: Path) -> None:
    rows = (
        LONG_HEAD
        + "Micah Hale,Game 10,3,fit,2,\nMicah Hale,Game 2,1-2,fit,2,\nMicah Hale,Spring 1,1,fit,2,\n"
    )
    season = load(write(tmp_path, marks__csv=rows, clips__csv=CLIPS.partition("\n")[0] + "\n"))
    assert season.games[["game_id", "phase"]].to_numpy().tolist() == [
        ["game-2", "game"],
        ["game-10", "game"],
        ["spring-1", "spring"],
    ]
    assert season.plays["play_id"].tolist() == ["game-2-001", "game-2-002", "game-10-003", "spring-1-001"]
    assert only(season, "games_from_sheets")["kind"] == "notice"


TURNS = "MMIMIIIMMIMMMIIMIIMMIMIMIIIMMI"
"""Who is on the field of each play: one of two men, without a rhythm."""

MEN = {"M": "Marcus Hale", "I": "Micah Hale"}


def film(n: int = len(TURNS)) -> tuple[str, str]:
    """Return a clip list of `n` plays, and the roles of two men who take turns."""
    clips = "Game,Clip,Snap,Wk,Opp,Off,Date\n"
    clips += "".join(f"Game 1,{c},{c},1,Lake,,2025-09-06\n" for c in range(1, n + 1))
    roles = "Game,Clip,Player,Role,At,By\n"
    roles += "".join(f"Game 1,{c},{MEN[TURNS[c - 1]]},inside,yes,line\n" for c in range(1, n + 1))
    return clips, roles


@pytest.mark.parametrize("shift", [-5, -2, -1, 1, 2, 5])
def test_a_shifted_numbering_is_offered_and_never_applied(tmp_path: Path, shift: int) -> None:
    clips, roles = film()
    rows = LONG_HEAD + "".join(f"{MEN[TURNS[c - 1]]},Game 1,{c + shift},fit,2,\n" for c in range(6, 25))
    files = {"clips__csv": clips, "roles__csv": roles, "marks__csv": rows}
    season = load(write(tmp_path, LONG + ROLES, **files))
    found = only(season, "numbering_shift")
    assert f'block 3 of season.toml: offsets."Game 1" = {-shift}' in found["suggestion"]
    assert found["kind"] == "notice"
    assert min(season.grades["play_id"]) == f"game-1-{6 + shift:03d}"
    assert "not_on_field" not in reasons(season)
    fixed = load(write(tmp_path, LONG + f'offsets = {{"Game 1" = {-shift}}}\n' + ROLES, **files))
    assert reasons(fixed) == []
    assert min(fixed.grades["play_id"]) == "game-1-006"


def test_a_single_mark_off_the_field_is_noticed_and_used(tmp_path: Path) -> None:
    clips, roles = film()
    rows = (
        LONG_HEAD + "Marcus Hale,Game 1,1,fit,2,\nMarcus Hale,Game 1,2,fit,2,\nMicah Hale,Game 1,4,fit,2,\n"
    )
    season = load(write(tmp_path, LONG + ROLES, clips__csv=clips, roles__csv=roles, marks__csv=rows))
    found = only(season, "not_on_field")
    assert (found["source_row"], found["value"], found["kind"]) == (4, "micah-hale", "notice")
    assert len(season.grades) == 3


def test_roles_twice_and_codes_unknown(tmp_path: Path) -> None:
    roles = "Game,Clip,Player,Role,At,By\nGame 1,1,Micah Hale,inside,y,TE\n"
    roles += "Game 1,1,47,edge,,line\nGame 1,2,47,edge,no,\n"
    season = load(write(tmp_path, LONG + ROLES, roles__csv=roles, marks__csv=LONG_HEAD))
    assert reasons(season) == ["unknown_blocker", "role_twice"]
    assert season.roles[["role", "at_point", "blocker"]].to_numpy().tolist() == [
        ["inside", "yes", ""],
        ["edge", "no", ""],
    ]
    ledger = season.ledger.set_index("source_file").loc["roles.csv"]
    assert (ledger["used"], ledger["set_aside"]) == (10, 6)


def test_tackles(tmp_path: Path) -> None:
    rows = [
        "Game 1,1,45.0,T,arms only/head down,3,up,angle,Coach Ames",
        "Game 1,2,Micah Hale,M,,-1,DOWN,straight on,Someone",
        "Game 1,2,Micah Hale,M,knees,0,,,",
        "Game 1,2,Micah Hale,half,,0,,,",
        "Game 1,5,Micah Hale,A,,lots,sideways,,",
        "Game 1,5,Micah Hale,A,,lots,sideways,,",
    ]
    text = TACKLE_HEAD.replace("45.0", "45") + "\n".join(rows).replace("45.0", "44")
    season = load(write(tmp_path, TACKLES, tackles__csv=text))
    got = season.tackles.drop(columns=["game_id", "source_file", "source_sheet", "source_column"])
    assert got.to_numpy().tolist()[0][:4] == ["marcus-hale", "game-1-001", "solo", "angle"]
    assert got["faults"].tolist() == ["arms;head_down", "", ""]
    assert got["head"].tolist() == ["up", "down", ""]
    assert got["scorer"].tolist() == ["ames", "Someone", ""]
    assert got["source_row"].tolist() == [2, 3, 6]
    assert reasons(season) == [
        "unknown_faults",
        "unknown_outcome",
        "unreadable_yards_after_contact",
        "unknown_head",
        "duplicate_row",
        "unreadable_yards_after_contact",
        "unknown_head",
    ]


def test_a_play_credited_twice_over_is_noticed(tmp_path: Path) -> None:
    rows = TACKLE_HEAD + "Game 1,1,44,T,,,,,\nGame 1,1,47,A,,,,,\nGame 1,2,44,A,,,,,\nGame 1,2,47,A,,,,,\n"
    season = load(write(tmp_path, TACKLES, tackles__csv=rows))
    assert reasons(season) == ["credit_of_play", "credit_of_play"]
    assert len(season.tackles) == 4


def test_events_several_in_a_cell_and_without_a_play(tmp_path: Path) -> None:
    block = """
[[sources]]
files = ["events.csv"]
kind = "events"
rater = "boon"
columns = {game = "Game", play = "Clip", player = "Player", kind = "What"}
values = {kind = {MA = "missed_assignment", "tackle/loss" = "tackle_for_loss"}}
"""
    rows = [
        "Game,Clip,Player,What",
        "Game 1,1,Micah Hale,MA; sack",
        "Game 1,1,Micah Hale,sacks",
        "Game 1,2,Micah Hale,tackle/loss",
        "Game 1,,Micah Hale,loaf",
        "Game 1,,Micah Hale,loaf",
        "Game 1,2,Micah Hale,hurdle",
        "Game 1,2,Micah Hale,",
    ]
    season = load(write(tmp_path, block, events__csv="\n".join(rows)))
    kinds = season.events[["play_id", "kind"]].to_numpy().tolist()
    assert kinds == [
        ["", "loaf"],
        ["", "loaf"],
        ["game-1-001", "missed_assignment"],
        ["game-1-001", "sack"],
        ["game-1-002", "tackle_for_loss"],
    ]
    assert season.events["scorer"].unique().tolist() == ["boon"]
    assert reasons(season) == ["duplicate_row", "unknown_kind", "kind_missing"]


def test_drills_take_phase_and_day_from_their_session(tmp_path: Path) -> None:
    block = """
[[sources]]
files = ["drills.csv"]
kind = "drills"
columns = {game = "When", date = "Date", drill = "Drill", reps = "Reps", minutes = "Min", contact = "Contact"}
"""
    rows = "When,Date,Drill,Reps,Min,Contact\nGame 1,,wrap,12,5,bag\n"
    rows += ",2025-08-02,fit,many,,thud\nGame 1,,,1,1,bag\n"
    season = load(write(tmp_path, block, drills__csv=rows))
    drills = season.drills[["game_id", "date", "phase", "drill", "reps"]]
    assert drills["drill"].tolist() == ["fit", "wrap"]
    assert drills["date"].tolist() == [pd.Timestamp("2025-08-02"), pd.Timestamp("2025-09-06")]
    assert drills["phase"].tolist() == ["", "game"]
    assert reasons(season) == ["unreadable_reps", "drill_missing"]


def test_remarks_in_markdown(tmp_path: Path) -> None:
    block = '\n[[sources]]\nfiles = ["r.md"]\nkind = "remarks"\n'
    text = "intro\n# Micah Hale\n\nFirst line.\n\n- second\n\n## Next year\nWork.\n"
    text += "# Nobody\nLost.\n### not a heading\n"
    season = load(write(tmp_path, block, r__md=text))
    got = season.remarks[["player_id", "section", "text", "source_row"]].to_numpy().tolist()
    assert got == [
        ["micah-hale", "", "First line.\n\n- second", 4],
        ["micah-hale", "Next year", "Work.", 9],
    ]
    assert reasons(season) == ["player_missing", "unknown_player"]
    ledger = season.ledger.set_index("source_file").loc["r.md"]
    assert [ledger[k] for k in ("rows", "used", "heading", "set_aside", "blank")] == [12, 3, 3, 3, 3]


def test_roster_rows(tmp_path: Path) -> None:
    block = '\n[[sources]]\nfiles = ["p.csv"]\nkind = "roster"\nconstants = {status = "prospect"}\n'
    block += 'columns = {player = "Id", name = "Name", jersey = "No", birth_month = "Born", '
    block += 'seasons_left = "Left"}\n'
    rows = [
        "Id,Name,No,Born,Left",
        "lb 1,Sam Lund,7,2007-03-14,4",
        "lb 2,Sam Lund,8,Mar 2008,9",
        ",Ola Vik,144,spring,2",
        ",Ola Vik,9,,2",
        ",Ola Vik,144,spring,2",
        ",,3,,",
    ]
    season = load(write(tmp_path, block, p__csv="\n".join(rows)))
    people = season.players[season.players["status"] == "prospect"]
    assert people["player_id"].tolist() == ["lb-1", "lb-2", "ola-vik"]
    assert people["birth_month"].tolist() == ["2007-03", "2008-03", ""]
    assert people["jersey"].tolist() == ["7", "8", ""]
    assert reasons(season) == [
        "unreadable_seasons_left",
        "unreadable_jersey",
        "unreadable_birth_month",
        "same_name_twice",
        "duplicate_row",
        "unreadable_jersey",
        "unreadable_birth_month",
        "name_missing",
    ]


def test_who_owes_what(tmp_path: Path) -> None:
    clips, roles = film(12)
    other = LONG.replace("marks.csv", "boon.csv").replace('"ames"', '"boon"')
    clips += "".join(f"Game 2,{c},{c},2,Fork,,2025-09-13\n" for c in range(1, 5))
    roles += "".join(f"Game 2,{c},Micah Hale,inside,,\n" for c in range(1, 5))
    full = "".join(f"{MEN[TURNS[c - 1]]},Game 1,{c},fit,2,\n" for c in range(1, 13))
    two = "".join(f"Micah Hale,Game 2,{c},fit,?,\n" for c in range(1, 5))
    files = {
        "clips__csv": clips,
        "roles__csv": roles,
        "marks__csv": LONG_HEAD + full + two,
        "boon__csv": LONG_HEAD + full,
    }
    table = coverage(load(write(tmp_path, LONG + other + ROLES, **files)))
    assert table.to_numpy().tolist() == [
        ["ames", "game-1", 12, 12, False],
        ["ames", "game-2", 4, 4, False],
        ["boon", "game-1", 12, 12, False],
        ["boon", "game-2", 0, 4, True],
    ]


def test_practices_that_only_the_drills_know_are_sessions(tmp_path: Path) -> None:
    block = """
[[sources]]
files = ["drills.csv"]
kind = "drills"
columns = {game = "When", date = "Date", drill = "Drill", phase = "Phase"}
"""
    rows = (
        "When,Date,Drill,Phase\nSpring 2,2025-03-20,wrap,\nTuesday,2025-09-02,fit,practice\nRainy day,,run,\n"
    )
    marks = LONG_HEAD + "Micah Hale,Tuesday,1,fit,2,\n"
    season = load(write(tmp_path, LONG + block, drills__csv=rows, marks__csv=marks))
    assert season.games[["game_id", "phase"]].to_numpy().tolist()[0] == ["spring-2", "spring"]
    assert season.grades["play_id"].tolist() == ["tuesday-001"]
    assert only(season, "unknown_game")["value"] == "Rainy day"


def test_marks_for_a_whole_session(tmp_path: Path) -> None:
    block = LONG.replace('play = "Clip", ', "")
    rows = LONG_HEAD + "Micah Hale,Game 1,,fit,2,\nMicah Hale,Game 2,,fit,1,\nMarcus Hale,Game 1,,fit,0,\n"
    season = load(write(tmp_path, block, marks__csv=rows))
    assert season.grades["play_id"].tolist() == ["game-1-000", "game-1-000", "game-2-000"]
    assert season.plays.loc[season.plays["clip"] == 0, "play_id"].tolist() == ["game-1-000", "game-2-000"]


def test_two_blocks_that_say_the_same_read_a_file_once(tmp_path: Path) -> None:
    rows = LONG_HEAD + "Micah Hale,Game 1,1,fit,2,\n"
    season = load(write(tmp_path, LONG + LONG.replace("marks.csv", "m*.csv"), marks__csv=rows))
    assert reasons(season) == ["block_twice"]
    assert len(season.grades) == 1


def test_sessions_are_found_by_their_day(tmp_path: Path) -> None:
    rows = (
        LONG_HEAD
        + "Micah Hale,9/6/2025,1,fit,2,\nMicah Hale,20.9.25,1,fit,2,\nMicah Hale,2025-09-07,1,fit,2,\n"
    )
    season = load(write(tmp_path, marks__csv=rows))
    assert season.grades["play_id"].tolist() == ["game-1-001", "game-2-001"]
    assert season.set_aside["value"].tolist() == ["2025-09-07"]
