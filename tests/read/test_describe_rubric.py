"""A rubric from headings; what two coaches may mean differently is never equated unasked."""

from __future__ import annotations

from lbeval.read.describe_blocks import Block
from lbeval.read.describe_marks import ScaleGuess
from lbeval.read.describe_rubric import draft_rubric
from lbeval.settings import Rubric

SCALE = ScaleGuess("zero_one", "0-1", ("0", "1"), (), (), sure=True)


def block(*criteria: str | tuple[str, str], shape: str = "wide", kind: str = "grades") -> Block:
    pairs = tuple(one if isinstance(one, tuple) else (one, "") for one in criteria)
    scale = SCALE if kind == "grades" else None
    return Block(("f.csv",), ("f.csv",), ("*",), kind, {"shape": shape}, criteria=pairs, scale=scale)


def test_groups_come_from_merged_headings_and_order_is_kept() -> None:
    found = draft_rubric([block(("JOB HERE / Fit", "JOB HERE"), ("TAKE-ON / Shed", "TAKE-ON"))], None)
    assert found.groups == (("job_here", "Job here"), ("take_on", "Take-on"))
    assert [(c.id, c.label, c.group) for c in found.criteria] == [
        ("fit", "Fit", "job_here"),
        ("shed", "Shed", "take_on"),
    ]
    assert found.meaning == ({"JOB HERE / Fit": "fit", "TAKE-ON / Shed": "shed"},)


def test_the_same_words_of_two_coaches_are_one_criterion() -> None:
    found = draft_rubric([block("Run fit", "Pursuit"), block("run_fit", "PURSUIT", shape="long")], None)
    assert [c.id for c in found.criteria] == ["run_fit", "pursuit"]
    assert found.meaning[1] == {"run_fit": "run_fit", "PURSUIT": "pursuit"}
    assert found.unsettled == ((), ())


def test_abbreviations_are_never_equated() -> None:
    found = draft_rubric([block("FIT", "PUR", shape="long"), block("Run fit", "Pursuit", "Alignment")], None)
    assert [c.id for c in found.criteria] == ["run_fit", "pursuit", "alignment"]
    assert found.unsettled == (("FIT", "PUR"), ())
    assert found.meaning[0] == {}


def test_alike_words_wait_and_unlike_words_are_new() -> None:
    found = draft_rubric(
        [block("Run fit", "Shed", "Stance"), block("Run fits", "Communication", "Blitz")], None
    )
    assert found.unsettled == ((), ("Run fits",))
    assert {"communication", "blitz"} <= {c.id for c in found.criteria}


def test_alike_words_of_one_coach_are_two_criteria() -> None:
    found = draft_rubric([block("Tackle angle", "Tackle angles", "Tackle")], None)
    assert len(found.criteria) == 3


def test_abbreviations_alone_are_the_rubric() -> None:
    found = draft_rubric([block("A", "T", "E")], None)
    assert [c.label for c in found.criteria] == ["A", "T", "E"]


def test_with_a_rubric_there_nothing_is_drafted() -> None:
    there = Rubric.model_validate(
        {
            "standard": 0.7,
            "groups": [{"id": "job", "label": "Job"}],
            "criteria": [{"id": "run_fit", "label": "Fits the run", "group": "job"}],
        }
    )
    found = draft_rubric([block("Fits the run", "Run fit", "Shed")], there)
    assert found.criteria == ()
    assert found.meaning == ({"Fits the run": "run_fit", "Run fit": "run_fit"},)
    assert found.unsettled == (("Shed",),)


def test_the_head_is_marked_as_safety_and_a_whole_chain_gets_its_stages() -> None:
    found = draft_rubric(
        [block("Close", "Strike", "Extend", "Shed", "Eyes up", "Head out", "Ahead of it")], None
    )
    assert [c.stage for c in found.criteria[:4]] == ["close", "strike", "extend", "shed"]
    assert [c.id for c in found.criteria if c.safety] == ["eyes_up", "head_out"]
    part = draft_rubric([block("Close", "Strike")], None)
    assert [c.stage for c in part.criteria] == ["", ""]


def test_other_kinds_give_no_criteria() -> None:
    found = draft_rubric([block("Fit", kind="plays")], None)
    assert found.criteria == ()
    assert found.meaning == ({},)
