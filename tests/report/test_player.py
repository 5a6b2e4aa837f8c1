from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest

from lbeval.errors import ReportError
from lbeval.report.blocks import Heading, Stack
from lbeval.report.parts import Block, plain
from lbeval.report.pictures import FigureBlock
from lbeval.report.player import PlayerEvaluation, player_document, player_jobs
from lbeval.report.player_rows import Copy
from tests.hand_analysis import HOSTILE, NAMES, full_analysis, small_analysis
from tests.hand_season import table


def text(page: PlayerEvaluation) -> str:
    return json.dumps([block.to_json() for block in page.blocks()], ensure_ascii=False)


def flat(blocks: tuple[Block, ...]) -> list[Block]:
    found: list[Block] = []
    for block in blocks:
        found.append(block)
        inner = getattr(block, "blocks", getattr(block, "cells", ()))
        found.extend(flat(tuple(one for one in inner if isinstance(one, Block))))
    return found


@pytest.mark.parametrize("player", ["ana", "bo", "cy", "di", "eli"])
def test_a_players_own_copy_shows_nobody_else_and_no_rank(player: str) -> None:
    page = player_document(full_analysis(), player, "player")
    said = text(page)
    assert page.rows.room is None
    for other, name in NAMES.items():
        if other != player:
            assert name not in said
            assert name.split()[-1] not in said
            assert f'"{other}"' not in said
    for word in ("1st", "2nd", "3rd", "ahead of", "separated", "the others", "Coach Abel", "Coach Bode"):
        assert word not in said


def test_the_staffs_copy_adds_the_room_and_who_graded() -> None:
    page = player_document(full_analysis(), "bo", "staff")
    said = text(page)
    assert " of 3" in said
    assert "Coach Abel" in said
    assert "grey: the others" in said
    ids = [claim.claim_id for claim in page.claims()]
    assert {"short.room", "staff.raw", "staff.coaches"} <= set(ids)


@pytest.mark.parametrize("copy", ["player", "staff"])
def test_claim_ids_are_unique_and_do_not_hang_on_what_is_said(copy: Copy) -> None:
    held = [[c.claim_id for c in player_document(full_analysis(), one, copy).claims()] for one in NAMES]
    for ids in held:
        assert len(ids) == len(set(ids))
        assert {"short.standing", "short.games", "short.work_on"} <= set(ids)


def test_head_contact_stands_before_everything_else() -> None:
    page = player_document(full_analysis(), "bo", "player")
    blocks = flat(page.blocks())
    kinds = [type(block).__name__ for block in blocks]
    assert kinds.index("Alert") < kinds.index("Heading")
    assert page.claims()[0].claim_id == "head.count"


@pytest.mark.parametrize("copy", ["player", "staff"])
def test_little_film_is_said_and_nothing_drawn(copy: Copy) -> None:
    page = player_document(full_analysis(), "cy", copy)
    assert "Only 9 plays in 1 game were graded: not enough film for a grade" in text(page)
    grades = [block for block in flat((page.groups(), page.games())) if isinstance(block, FigureBlock)]
    assert grades == []


@pytest.mark.parametrize("copy", ["player", "staff"])
def test_a_season_without_ratings_still_shows_its_counts(copy: Copy) -> None:
    unrated = dataclasses.replace(full_analysis(), ratings=None, unrated="No game has a mark.")
    page = player_document(unrated, "bo", copy)
    assert "so there is no grade" in text(page)
    assert "tackle attempts" in text(page)


def test_no_film_is_said() -> None:
    page = player_document(full_analysis(), "di", "player")
    assert "None of his plays was graded" in text(page)
    assert not [block for block in flat(page.blocks()) if isinstance(block, FigureBlock)]


@pytest.mark.parametrize("copy", ["player", "staff"])
@pytest.mark.parametrize("player", ["ana", "bo", "eli", "di"])
def test_a_season_of_three_marks_a_snap_is_a_whole_page(player: str, copy: Copy) -> None:
    page = player_document(small_analysis(), player, copy)
    said = text(page)
    assert "Not in this season's files, so not on this page: a tackle log, events beside the marks" in said
    for heading in ("Tackling", "Called take-ons", "Beside the marks", "Coach's words"):
        assert heading not in said
    if player != "di":
        assert len([block for block in flat(page.blocks()) if isinstance(block, FigureBlock)]) == 2


@pytest.mark.parametrize("player", NAMES)
def test_no_heading_stands_over_nothing(player: str) -> None:
    for section in player_document(full_analysis(), player, "staff").blocks():
        if isinstance(section, Stack):
            blocks = [one for one in flat((section,)) if not isinstance(one, Stack)]
            assert not blocks or not isinstance(blocks[-1], Heading)


def test_a_name_is_only_a_name() -> None:
    page = player_document(full_analysis(), "ana", "player")
    assert page.document.title == HOSTILE


def test_remarks_that_name_a_team_mate_stay_with_the_staff() -> None:
    own = text(player_document(full_analysis(), "bo", "player"))
    assert "Led the room." in own
    assert "1 paragraph names another player" in own
    assert "He learned much from Whitlock." in text(player_document(full_analysis(), "bo", "staff"))


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        ("Better than Whitlock's first step.", True),
        ("He and Cyrus watched film.", True),
        ("**Renner** sets the edge.", True),
        ("A vantongeren is not a name here.", False),
        ("Dee holds the edge.", False),
        ("He marshals the front.", False),
        ("Marsh ground or not, he ran.", True),
        ("His own name, Quist-Marsh, is his.", True),
        ("Strong hands. Great eyes.", False),
    ],
)
def test_paragraphs_that_name_someone_are_kept_back(words: str, kept: bool) -> None:
    held = full_analysis()
    remarks = table("remarks", [{"player_id": "ana", "text": words}])
    page = player_document(
        dataclasses.replace(held, season=dataclasses.replace(held.season, remarks=remarks)), "ana", "player"
    )
    assert (words.replace("**", "") not in text(page)) == kept


def test_a_page_is_a_draft_while_names_wait() -> None:
    held = full_analysis()
    waiting = table("to_settle", [{"what": "player", "written": "Q. Ada", "times": 3}])
    season = dataclasses.replace(held.season, to_settle=waiting)
    document = player_document(dataclasses.replace(held, season=season), "bo").document
    assert document.draft
    assert document.draft_note == "1 name or code waits to be settled"
    assert not player_document(held, "bo").document.draft


def test_two_runs_give_the_same_page() -> None:
    first, second = (text(player_document(full_analysis(), "eli", "staff")) for _ in range(2))
    assert first == second


def test_no_statistics_jargon_where_a_player_reads() -> None:
    for player in NAMES:
        page = player_document(full_analysis(), player, "player")
        words = " ".join(plain(line) for line in page.method().texts) + text(page)
        for jargon in ("confidence", "interval", "significan", "standard error", "Wilson", "shrink", "REML"):
            assert jargon not in words


def test_who_is_not_on_the_roster_has_no_page() -> None:
    with pytest.raises(ReportError, match=r"'nobody' is not on the roster; it has ana, bo"):
        player_document(full_analysis(), "nobody")
    with pytest.raises(ReportError, match="say player or staff"):
        player_document(full_analysis(), "bo", "coach")  # type: ignore[arg-type]


def test_jobs_for_the_whole_room_or_some() -> None:
    jobs = player_jobs(full_analysis(), Path("somewhere"))
    assert len(jobs) == 10
    assert len({job.name for job in jobs}) == 10
    one = player_jobs(full_analysis(), Path("somewhere"), players=["bo"], copies=["staff"], paper="a4")
    assert [job.parameters["copy"] for job in one] == ["staff"]
    with pytest.raises(ReportError):
        player_jobs(full_analysis(), Path("somewhere"), players=["nobody"])


def test_paper_of_the_program_or_as_asked() -> None:
    assert player_document(full_analysis(), "bo").document.paper == "us-letter"
    assert player_document(full_analysis(), "bo", paper="a4").document.paper == "a4"
