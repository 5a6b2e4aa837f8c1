"""Files are whole or untouched; names are safe on every system."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lbeval.errors import ReportError
from lbeval.files import slug, write_bytes_atomic, write_text_atomic


@given(st.text(st.characters()))
def test_a_slug_is_a_safe_file_name(name: str) -> None:
    stem = slug(name)

    assert 1 <= len(stem) <= 85
    assert set(stem) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not stem.startswith("-")
    assert not stem.endswith("-")
    assert slug(stem) == stem


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ('Ana "#read(1)" O\'Neil-[Şahin] & $x$', "ana-read-1-oneil-sahin-x"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\Users\\x. ", "c-users-x"),
        ("NUL", "nul-file"),
        ("com1", "com1-file"),
        ("Łukasz Ørsted ß ıI", "lukasz-orsted-ss-ii"),
        ("...", "unnamed"),
        ("a" * 10_000, "a" * 80),
        ("", "unnamed"),
    ],
)
def test_examples(name: str, stem: str) -> None:
    assert slug(name) == stem


def test_the_fallback_is_the_callers() -> None:
    assert slug("日本", fallback="player-44") == "player-44"


def test_folders_are_made_and_nothing_else_is_left(tmp_path: Path) -> None:
    target = write_text_atomic(tmp_path / "a" / "b.txt", "Şahin\n")

    assert target.read_bytes() == "Şahin\n".encode()
    assert list(target.parent.iterdir()) == [target]


def test_the_same_content_is_not_written_again(tmp_path: Path) -> None:
    target = write_bytes_atomic(tmp_path / "x", b"1")
    os.utime(target, (1, 1))
    write_bytes_atomic(target, b"1")
    assert target.stat().st_mtime == 1

    write_bytes_atomic(target, b"2")
    assert target.read_bytes() == b"2"


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError, MemoryError])
def test_a_run_that_is_stopped_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: type[BaseException],
) -> None:  # fmt: skip
    target = write_bytes_atomic(tmp_path / "x", b"old")

    def stopped(_: int) -> None:
        raise stop

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises((KeyboardInterrupt, ReportError, MemoryError)):
        write_bytes_atomic(target, b"new")

    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_file_open_elsewhere_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(_: Path, __: Path) -> Path:
        raise PermissionError(13, "in use")

    monkeypatch.setattr(Path, "replace", locked)
    with pytest.raises(ReportError, match=r"x\.pdf could not be written: it is open in another program"):
        write_bytes_atomic(tmp_path / "x.pdf", b"1")

    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    with pytest.raises(ReportError, match="could not be written"):
        write_bytes_atomic(tmp_path / "x", b"1")


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_rights_are_those_of_any_file(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.write_bytes(b"")
    made = write_bytes_atomic(tmp_path / "made", b"1")
    assert made.stat().st_mode == usual.stat().st_mode

    made.chmod(0o640)
    write_bytes_atomic(made, b"2")
    assert made.stat().st_mode & 0o777 == 0o640
