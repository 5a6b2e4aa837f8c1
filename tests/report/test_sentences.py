from __future__ import annotations

import math

import pytest

from lbeval.report import sentences
from lbeval.report.player_rows import (
    CoachRow,
    EventRow,
    FilmRow,
    HeadRow,
    RateRow,
    RepsRow,
    StageRow,
    YardsRow,
)
from lbeval.report.words import GradeWords
from tests.report.typed_rows import (
    FILM,
    NO_HEAD,
    POINTS,
    criterion,
    game,
    grade,
    player,
    rater,
    room,
)

UNSURE = ", which this film can't tell from the standard of 1.40."


@pytest.mark.parametrize(
    ("estimate", "half", "said"),
    [
        (0.80, 0.04, "1.60 of 2, likely between 1.52 and 1.68: above the standard of 1.40."),
        (0.60, 0.04, "1.20 of 2, likely between 1.12 and 1.28: below the standard of 1.40."),
        (0.72, 0.04, f"1.44 of 2, likely between 1.36 and 1.52{UNSURE}"),
        (0.74, 0.04, f"1.48 of 2, likely between 1.40 and 1.56{UNSURE}"),
    ],
)
def test_above_and_below_only_where_the_whole_interval_is(estimate: float, half: float, said: str) -> None:
    claim = sentences.standing(grade(estimate, half), FILM, 0.7, POINTS, 30)
    assert claim.claim_id == "short.standing"
    assert claim.text == f"Over 412 plays in 12 games he grades {said}"


def test_an_end_that_prints_as_the_standard_gives_no_verdict() -> None:
    said = sentences.standing(grade(0.6, 0.0999), FILM, 0.7, POINTS, 30).text
    assert said.endswith("likely between 1.0 and 1.4, which this film can't tell from the standard of 1.4.")


def test_too_little_film_gives_counts_and_no_number() -> None:
    row = grade(math.nan, n_plays=9, note="not_enough_film")
    said = sentences.standing(row, FilmRow(9, 9, 2, 1, 40, "few_plays"), 0.7, POINTS, 30).text
    assert said == ("Only 9 plays in 2 games were graded: not enough film for a grade, which takes 30 plays.")
    one = sentences.standing(row, FilmRow(1, 1, 1, 1, 3, "few_plays"), 0.7, POINTS, 30).text
    assert one.startswith("Only 1 play in 1 game was graded")


def test_marks_that_do_not_differ_give_no_grade() -> None:
    said = sentences.standing(grade(math.nan, note="marks_alike"), FILM, 0.7, POINTS, 30).text
    assert (
        said == "The marks of 412 plays in 12 games do not differ, so they give no grade with a likely range."
    )


def test_no_film_at_all() -> None:
    row = grade(0.5, n_plays=0, note="no_film")
    said = sentences.standing(row, FilmRow(0, 0, 0, 0, 0, "few_plays"), 0.7, POINTS, 30).text
    assert said == "None of his plays was graded in a game this season, so there is no grade."


def test_percent_where_the_scale_has_no_numbers() -> None:
    percent = GradeWords(0.0, 100.0, percent=True)
    said = sentences.standing(grade(0.8, 0.05), FILM, 0.7, percent, 30).text
    assert said.endswith("he grades 80%, likely between 75 and 85%: above the standard of 70%.")


def test_the_room_as_a_band() -> None:
    said = sentences.room_band(grade(0.7), room(ahead_of=("Bo Renner",), behind=("A", "B", "C", "D")))
    assert said is not None
    assert said.text == (
        "In the room he is likely between 2nd and 5th of 11, clearly ahead of Bo Renner and clearly behind "
        "4 of the others; the rest cannot be clearly separated from him."
    )
    nobody = sentences.room_band(grade(0.7, rank_low=1.0, rank_high=11.0), room())
    assert nobody is not None
    assert nobody.text.endswith("between 1st and 11th of 11; nobody can be clearly separated from him.")


def test_everybody_separated_leaves_no_rest() -> None:
    said = sentences.room_band(grade(0.7, rank_low=1.0, rank_high=1.0), room(n_ranked=2, ahead_of=("Bo",)))
    assert said is not None
    assert said.text == "In the room he is likely 1st of 2, clearly ahead of Bo."


def test_no_rank_no_sentence() -> None:
    assert sentences.room_band(grade(0.7, rank_low=math.nan, rank_high=math.nan), room()) is None
    assert sentences.room_band(grade(0.7), room(n_ranked=1)) is None


def test_games_that_cannot_be_told_apart_are_not() -> None:
    games = [game("Dunmere", 0.70), game("Wexcombe", 0.74), game("Sable", 0.66)]
    said = sentences.by_game(grade(0.7), games, POINTS).text
    assert said == (
        "No game stands out from his season: adjusted, 3 games run from 1.32 against Sable (likely between "
        "1.16 and 1.48) to 1.48 against Wexcombe (likely between 1.32 and 1.64)."
    )


def test_games_that_print_alike_are_one_number() -> None:
    games = [game("Dunmere", 0.70), game("Wexcombe", 0.701)]
    said = sentences.by_game(grade(0.7), games, POINTS).text
    assert said == (
        "No game stands out from his season: adjusted, all 2 come to about 1.40 (likely between 1.24 and "
        "1.56)."
    )


def test_games_that_stand_out_are_named_with_their_interval() -> None:
    games = [game("Dunmere", 0.85), game("Wexcombe", 0.5), game("Sable", 0.7)]
    said = sentences.by_game(grade(0.7), games, POINTS).text
    assert said == (
        "Adjusted for who graded, he was above his season against Dunmere (1.70, likely between 1.54 and "
        "1.86) and below it against Wexcombe (1.00, likely between 0.84 and 1.16); the other game cannot be "
        "told from it."
    )


def test_many_games_that_stand_out_are_listed() -> None:
    games = [game(name, 0.9) for name in ("A", "B", "C")]
    said = sentences.by_game(grade(0.7), games, POINTS).text
    assert said == (
        "Adjusted for who graded, he was above his season in 3 games (likely between 1.64 and 1.96)."
    )


def test_one_game_says_nothing_about_change() -> None:
    assert "too few graded games" in sentences.by_game(grade(0.7), [game("A", 0.7)], POINTS).text
    assert "too few graded games" in sentences.by_game(grade(math.nan), [], POINTS).text


def test_games_without_an_opponent_go_by_their_label() -> None:
    games = [game("Week 1", 0.65, opponent=""), game("Week 2", 0.72, opponent="")]
    said = sentences.by_game(grade(0.7), games, POINTS).text
    assert "in Game of Week 1" in said
    assert "against" not in said


def test_work_on_what_is_furthest_below() -> None:
    rows = player(
        groups=(grade(0.6, group="blocks"), grade(0.5, group="tackle")),
        criteria=(criterion("eyes", "tackle", 0.72), criterion("wrap", "tackle", 0.4)),
    )
    said = sentences.work_on(rows).text
    assert said == (
        "Most is to be gained in “Tackle”, 1.00 of 2, likely between 0.92 and 1.08: below the standard of "
        "1.40. Start with “Wraps”: 0.80 of 2, likely between 0.72 and 0.88."
    )


def test_the_drill_is_named_where_the_rubric_has_one() -> None:
    rows = player(
        groups=(grade(0.5, group="blocks"),),
        criteria=(criterion("shed", "blocks", 0.4), criterion("close", "blocks", 0.6)),
    )
    assert sentences.work_on(rows).text.endswith("likely between 0.72 and 0.88; drill: Rolling ball.")


def test_nothing_clearly_below_is_said_so() -> None:
    rows = player(groups=(grade(0.68, group="blocks"), grade(0.9, group="tackle")))
    said = sentences.work_on(rows).text
    assert said.startswith("Nothing is clearly below the standard; the lowest is “Taking on blocks”, 1.36")
    assert "below the standard of" not in said


def test_a_clearly_low_group_comes_before_a_lower_but_unsure_one() -> None:
    rows = player(groups=(grade(0.6, 0.04, group="blocks"), grade(0.5, 0.3, group="tackle")))
    assert "in “Taking on blocks”" in sentences.work_on(rows).text


def test_the_head_comes_first_whatever_the_grades() -> None:
    rows = player(head=HeadRow(2, 2, 2, 0, 0, 0, 0, 40), groups=(grade(0.9, group="blocks"),))
    assert sentences.work_on(rows).text.startswith("First of all: the head up and out of contact")
    marked = player(criteria=(criterion("eyes", "tackle", 0.5),))
    assert sentences.work_on(marked).text.startswith("First of all: the head up and out of contact")
    sure = player(criteria=(criterion("eyes", "tackle", 0.69),), head=HeadRow(1, 0, 0, 0, 1, 9, 0, 0))
    assert not sentences.work_on(sure).text.startswith("First")


def test_no_grade_no_advice() -> None:
    rows = player(groups=(grade(math.nan, group="blocks"),))
    assert sentences.work_on(rows).text == "What to work on is for his coaches to say."


def test_head_contact_is_counted_made_or_missed() -> None:
    assert sentences.head_contact(NO_HEAD) is None
    said = sentences.head_contact(HeadRow(6, 5, 4, 1, 2, 80, 1, 40))
    assert said is not None
    assert said.text == (
        "Head down on 5 tackle attempts (4 made, 1 missed); the lowest mark for head position on 2 of 80 "
        "plays marked for it; 1 of 6 plays was outside games. Made or missed, this comes first."
    )
    marks = sentences.head_contact(HeadRow(1, 0, 0, 0, 1, 1, 0, 0))
    assert marks is not None
    assert marks.text.startswith("The lowest mark for head position on 1 of 1 play marked for it. Made")


def rate(made: int, missed: int, low: float, high: float, **more: str) -> RateRow:
    values = {"approach": "all", "denominator": "solo+assist", "note": "", **more}
    n = made + missed
    return RateRow(
        values["approach"], values["denominator"], made, missed, n, made / n if n else math.nan, low, high,
        values["note"],
    )  # fmt: skip


def test_tackles_with_and_without_a_rate() -> None:
    assert sentences.tackle_total(rate(22, 9, 0.56, 0.83)).text == (
        "He made 22 of 31 tackle attempts, 71%, likely between 56% and 83%."
    )
    few = sentences.tackle_total(rate(3, 1, 0.3, 0.9, note="few_tackles")).text
    assert few == "He made 3 of 4 tackle attempts: too few for a rate."
    assert "no tackle attempt" in sentences.tackle_total(rate(0, 0, math.nan, math.nan)).text


def test_what_counts_as_made_is_printed_with_the_other_count() -> None:
    solo = rate(8, 2, 0.5, 0.9, denominator="solo")
    assert sentences.tackle_counted(rate(12, 2, 0.6, 0.95), solo, None).text == (
        "Made counts solo tackles and assists. With solo tackles only: 8 of 10."
    )
    assert sentences.tackle_counted(rate(12, 2, 0.6, 0.95), None, None).text == (
        "Made counts solo tackles and assists."
    )
    unknown = rate(2, 1, 0.1, 0.9, approach="not_noted", note="few_tackles")
    assert sentences.tackle_counted(solo, None, unknown).text.endswith("The approach was not noted on 3.")


def test_yards() -> None:
    rows = [
        YardsRow("made", 61.0, 30, 2.03, 1.4, 2.7, ""),
        YardsRow("missed", 9.0, 1, 9.0, math.nan, math.nan, "few_tackles"),
    ]
    (claim,) = sentences.yards(rows)
    assert claim.text == (
        "Yards after first contact: 61 on 30 tackles made (2.0 each, likely between 1.4 and 2.7) and 9 on "
        "1 miss."
    )
    assert sentences.yards([]) == []


def test_take_ons_name_the_stage_where_most_were_lost() -> None:
    stages = [
        StageRow("close", 50, 60, 0.83, 0.7, 0.9, ""),
        StageRow("strike", 30, 50, 0.6, 0.5, 0.7, ""),
        StageRow("shed", 10, 30, 0.33, 0.2, 0.5, ""),
    ]
    assert sentences.takeons(stages, RepsRow(60, 3, 40, 10)).text == (
        "60 called take-ons in games; most were lost at strike and shed (20 each). The gap was held on 40 "
        "of 50."
    )
    assert sentences.takeons(stages[:1], RepsRow(60, 0, 0, 0)).text == "60 called take-ons in games."


def test_event_rates() -> None:
    known = EventRow("loaf", 6, 4, 537, "snaps", 6 / 537, 0.0056, 0.0212)
    assert sentences.event_rate(known) == "1.1 (0.6–2.1)"
    assert sentences.event_rate(known._replace(estimate=math.nan)) == ""


def test_coaches_beside_the_staffs_average() -> None:
    held = room(
        coaches=(CoachRow("b", 30, 200), CoachRow("a", 400, 3000)),
        severity=(rater("a", -0.08), rater("b", 0.01)),
        rater_names={"a": "Coach Abel", "b": "Coach Bode"},
    )
    said = sentences.coaches(held, POINTS)
    assert said is not None
    assert said.text == (
        "Beside the staff's average, Coach Abel (400 plays) marks 0.16 lower (likely 0.12–0.20) and Coach "
        "Bode (30 plays) marks neither higher nor lower that this film can tell."
    )


def test_coaches_on_a_percent_scale_differ_by_points() -> None:
    held = room(coaches=(CoachRow("a", 400, 3000),), severity=(rater("a", -0.08), rater("b", 0.08)))
    said = sentences.coaches(held, GradeWords(0.0, 100.0, percent=True))
    assert said is not None
    assert said.text == "Beside the staff's average, a (400 plays) marks 8 points lower (likely 6–10)."


def test_one_coach_is_not_compared_with_himself() -> None:
    held = room(
        coaches=(CoachRow("a", 400, 3000),), severity=(rater("a", 0.0),), rater_names={"a": "Coach Abel"}
    )
    said = sentences.coaches(held, POINTS)
    assert said is not None
    assert said.text == "Graded by Coach Abel on 400 plays."
    assert sentences.coaches(room(), POINTS) is None


def test_raw_beside_adjusted() -> None:
    said = sentences.raw_beside(grade(0.7, raw=0.8, raw_simple=0.8), POINTS)
    assert said is not None
    assert said.text == ("The plain average of his marks is 1.60; adjusted for who graded him it is 1.40.")
    said = sentences.raw_beside(grade(0.7, raw=0.78, raw_simple=0.8), POINTS)
    assert said is not None
    assert said.text == (
        "The plain average of his marks is 1.60, 1.56 with the rubric's weights; adjusted for who graded him "
        "it is 1.40."
    )
    assert sentences.raw_beside(grade(math.nan), POINTS) is None
