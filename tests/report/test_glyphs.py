"""Text is brought to what the fonts can draw; nothing that acts unseen is left in it."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import ReportError
from lbeval.report import glyphs
from lbeval.report.glyphs import MISSING, clean, covered, font_files, printable


@given(st.text(st.characters()))
def test_every_character_left_can_be_drawn_and_does_not_act(text: str) -> None:
    done = printable(text)

    assert all(ord(char) in covered() or char == "\n" for char in done)
    assert not any(unicodedata.category(char) in {"Cc", "Cs", "Co", "Cn"} for char in done if char != "\n")
    assert not any(0x202A <= ord(char) <= 0x202E or 0x2066 <= ord(char) <= 0x2069 for char in done)
    assert printable(done) == done


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126)))
def test_ordinary_text_is_left_alone(text: str) -> None:
    assert printable(text) == clean(text) == text


@pytest.mark.parametrize(
    ("text", "done"),
    [
        ("Şahin Łukasz Ñandú", "Şahin Łukasz Ñandú"),
        ("a\r\nb\rc\u2029d", "a\nb\nc\nd"),
        ("tab\there", "tab here"),
        ("\x00\x1f\x7f", MISSING * 3),
        ("日", MISSING),
        ("\ufeff\u200d\u00ad\u2067\ufe0f", ""),
        ("x" + "\u0323" * 50, "x̣" + "\u0323" * 2),
    ],
)
def test_examples(text: str, done: str) -> None:
    assert printable(text) == unicodedata.normalize("NFC", done)


def test_the_mark_for_what_is_missing_is_itself_there() -> None:
    assert ord(MISSING) in covered()


def test_a_missing_package_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(glyphs, "_folder", lambda _: tmp_path)
    with pytest.raises(ReportError, match=r"SourceSansPro-Regular\.ttf is missing"):
        font_files()
