"""What a sheet seems to be, by its headings and what stands under them."""

from __future__ import annotations

import pandas as pd
import pytest

from lbeval.read.describe_fields import Around, Guess
from lbeval.read.describe_kinds import guess_sheet
from lbeval.read.describe_look import look_at
from lbeval.read.sheets import Sheet

PEOPLE = Around(1, frozenset({"quist", "marsh", "vance", "44"}), frozenset({"dunmere"}))


def guesses(text: str, *, file: str = "a.csv", sheet: str = "", around: Around = PEOPLE) -> list[Guess]:
    rows = [line.split(",") for line in text.strip().splitlines()]
    width = max(map(len, rows))
    cells = pd.DataFrame([[c.strip() for c in row] + [""] * (width - len(row)) for row in rows], dtype="str")
    look = look_at(Sheet(file, sheet, cells))
    return guess_sheet(look, around) if look else []


def one(text: str, *, file: str = "a.csv", sheet: str = "") -> Guess:
    found = guesses(text, file=file, sheet=sheet)
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("plays", "Game,Clip,Down,Dist,Hash,Call\nGame 1,1,1,10,L,Slate"),
        ("plays", "Session,Play #,Dn,To go,R/P\nGame 1,1,1,10,R"),
        ("roles", "Game,Clip,Player,Role,POA\nGame 1,1,Quist,inside,Y"),
        ("events", "Game,Player,What\nGame 1,Quist,MA\nGame 1,Marsh,loaf"),
        ("tackles", "Game,Play,No.,Result,Angle,Why missed\nGame 1,4,44,M,pursuit,arms only"),
        ("roster", "Name,No.,Pos,Class\nAda Quist,44,ILB,Sr"),
        ("measurables", "Name,Ht,Wt,40\nQuist,6-1,230,4.7"),
        ("measurables", "Player,Test,Result,Timing\nQuist,40 yd,4.7,hand"),
        ("drills", "Date,Drill,Reps,Min,Contact\n2025-08-04,Sled,12,8,bag"),
        ("remarks", "Player,Comment\nQuist,Reads the guard better than anyone in this room"),
        ("grades", "Session,Clip,Player,Criterion,Mark\nGame 1,1,Quist,Run fit,1\nGame 1,1,Quist,Shed,2"),
        ("grades", "Game,Play,Player,A,T,E\nGame 1,1,Quist,+,-,+\nGame 1,2,Quist,-,-,+"),
    ],
)
def test_kinds(kind: str, text: str) -> None:
    assert one(text).kind == kind


def test_what_is_nothing_of_ours_is_not_guessed() -> None:
    assert guesses("Date,Opponent,Bus,Hotel\n2025-09-06,Dunmere,8:00,Plaza") == []
    assert guesses("1,2,3\n4,5,6") == []


def test_wide_marks_take_no_down_or_distance_for_a_criterion() -> None:
    found = one("Clip,Player,Down,Qtr,Fit,Shed,Total\n1,Quist,1,2,1,2,3\n2,Quist,2,2,0,2,2", sheet="Game 1")
    assert [written for written, _ in found.criteria] == ["Fit", "Shed"]
    assert found.source["take"] == {"game": "sheet"}


def test_a_name_goes_before_a_number() -> None:
    found = one("Game,Play,#,Player,A,T\nGame 1,1,44,Quist,+,-")
    assert found.source["columns"]["player"] == "Player"


def test_defensive_snaps_are_told_from_clips() -> None:
    assert one("Game,Snap,Player,A,T\nGame 1,1,Quist,+,-").source["numbering"] == "snap"
    assert "numbering" not in one("Game,Clip,Player,A,T\nGame 1,1,Quist,+,-").source


def test_session_from_a_cell_above_the_sheet_the_file_or_rows_between() -> None:
    body = "Clip,Player,A,T\n1,Quist,+,-\n2,Quist,-,-"
    assert one(f"Opponent,Dunmere\n{body}").source["take"] == {"game": "cell B1"}
    assert one(body, sheet="Wk 3").source["take"] == {"game": "sheet"}
    assert one(body, file="Game 3.csv").source["take"] == {"game": "file"}
    assert one(f"{body}\nGame 4,,,\n1,Quist,+,-").source["take"] == {"game": "row above"}


def test_no_session_anywhere_is_a_doubt() -> None:
    found = one("Clip,Player,A,T\n1,Quist,+,-")
    assert any("session" in doubt for doubt in found.doubts)


@pytest.mark.parametrize(
    ("file", "coaches"),
    [
        ("hale_grades.csv", ("Hale",)),
        ("LB grades 2025.csv", ()),
        ("hale/Game 1.csv", ("Hale",)),
        ("grades by Hale and Ruiz.csv", ()),
    ],
)
def test_grader_from_the_file(file: str, coaches: tuple[str, ...]) -> None:
    found = one("Game,Clip,Player,A,T\nGame 1,1,Quist,+,-", file=file)
    assert found.coaches == coaches
    assert ("who graded?" in found.doubts) is not bool(coaches)


def test_grader_from_a_column_or_a_line_above() -> None:
    column = one("Coach,Game,Clip,Player,A,T\nHale,Game 1,1,Quist,+,-\nRuiz,Game 1,1,Quist,+,-")
    assert column.coaches == ("Hale", "Ruiz")
    above = one("Graded by: Coach Hale\nGame,Clip,Player,A,T\nGame 1,1,Quist,+,-")
    assert above.coaches == ("Coach Hale",)


def test_words_of_a_coach_become_ours_and_unknown_ones_a_doubt() -> None:
    rows = "Game 1,4,Quist,M,side\nGame 1,5,Quist,T,somehow\nGame 1,6,Quist,T,side"
    found = one(f"Game,Play,Player,Result,Angle\n{rows}")
    assert found.source["values"]["outcome"] == {"M": "miss", "T": "solo"}
    assert found.source["values"]["approach"] == {"side": "angle"}
    assert any("somehow" in doubt for doubt in found.doubts)


def test_players_across() -> None:
    found = one("Clip,Quist,Marsh,Vance\n1,+,-,+\n2,-,-,+", sheet="Game 1")
    assert (found.kind, found.source["shape"]) == ("grades", "across")
    assert found.doubts


def test_a_tab_per_player() -> None:
    found = one("Game,Clip,A,T\nGame 1,1,+,-\nGame 1,2,-,-", sheet="Quist")
    assert found.source["take"] == {"player": "sheet"}


def test_packed_marks_are_asked() -> None:
    found = one("Game,Clip,Player,Grade\nGame 1,1,Quist,++-\nGame 1,2,Quist,--+(MA)")
    assert found.source["packed"] == ["assignment", "technique", "effort"]
    assert found.source["events_in_marks"] == {"MA": "missed_assignment"}
    assert any("which criteria" in doubt for doubt in found.doubts)


def test_marks_given_again() -> None:
    body = "Game,Clip,Player,A,T\nGame 1,1,Quist,+,-"
    assert one(body, file="hale_repeat.csv").source["constants"] == {"look": "repeat"}
    assert "constants" not in one(body, sheet="Second look").source


def test_a_list_of_people_with_tests_is_two_things() -> None:
    found = guesses("Name,Pos,Class,Height (cm),Weight\nQuist,ILB,Sr,185,230", file="prospects.csv")
    assert [guess.kind for guess in found] == ["roster", "measurables"]
    assert found[0].source["constants"] == {"status": "prospect"}
    assert found[1].source["units"] == {"height": "cm"}


def test_hand_and_electronic_columns_are_kept_apart() -> None:
    found = guesses("Name,40 (hand),40 (FAT),Hand\nQuist,4.6,4.8,9.5")
    timings = {
        tuple(g.source["tests"].values()): g.source.get("constants", {}).get("timing", "") for g in found
    }
    assert (
        timings == {("hand",): "", ("forty",): "electronic"}
        or len(timings) == 3
        or "hand" in timings.values()
    )


def test_private_columns_are_not_taken() -> None:
    found = guesses("Name,Pos,Class,GPA,Parent phone,Injury\nQuist,ILB,Sr,3.4,555,knee")[0]
    assert found.source["ignore_columns"] == ["GPA", "Parent phone", "Injury"]


def test_totals_and_comments_are_no_entries() -> None:
    found = one("Game,Clip,Player,A,T\n# watched twice,,,,\nGame 1,1,Quist,+,-\nTotal,,,1,0")
    assert found.source["ignore_rows"] == ["#", "total"]
