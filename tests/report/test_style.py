"""Figures: shipped fonts, text as text, fixed sizes, the same bytes, and no trace left in matplotlib."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree as ET

import matplotlib as mpl
import pytest
from matplotlib import font_manager
from matplotlib import pyplot as plt

from lbeval.report import style
from lbeval.report.pictures import FigureBlock

NAME = 'Ana "#read(1)" O\'Neil-[Şahin] & $x$ <b>'


def drawn(title: str = NAME, **sizes: Any) -> FigureBlock:
    with style.figure_style():
        figure, axes = style.new_figure(**{"width": 3.0, "height": 2.0, **sizes})
        axes.errorbar([1, 2], [3, 4], yerr=[1, 1], fmt="o")
        axes.fill_between([1, 2], [2, 3], [4, 5], color=style.BAND)
        axes.set_title(style.drawable(title))
        return style.figure_block(figure, alt="Marks", caption="c")


def texts(block: FigureBlock) -> list[str]:
    root = ET.fromstring(block.svg)  # noqa: S314  our own figure
    return [item.text or "" for item in root.iter("{http://www.w3.org/2000/svg}text")]


def test_same_figure_same_bytes_and_no_date() -> None:
    first, second = drawn(), drawn()

    assert first == second
    assert "dc:date" not in first.svg


@pytest.mark.parametrize("name", [NAME, "$a^2$ and $b$", "日本 😀", "a\x00b\u202e", "שלום", "\ud800"])
def test_a_name_is_drawn_as_text(name: str) -> None:
    assert style.drawable(name) in texts(drawn(name))


def test_a_name_nobody_prepared_draws_a_mark_too() -> None:
    with style.figure_style():
        figure, axes = style.new_figure(height=1.0)
        axes.set_title("日本")
        block = style.figure_block(figure, alt="x")

    assert "▯▯" in texts(block)


def test_a_figure_has_the_size_it_was_given() -> None:
    block = drawn(width=2.5)

    assert block.width == 2.5
    assert 'width="180pt"' in block.svg


def test_margins_are_inches_whatever_the_size() -> None:
    for width in (3.0, 6.5):
        figure, axes = style.new_figure(width=width, height=2.0, left=1.0, right=0.5, top=0.2, bottom=0.4)
        box = axes.get_position()
        assert box.x0 * width == pytest.approx(1.0)
        assert (1 - box.x1) * width == pytest.approx(0.5)
        assert (1 - box.y1) * 2 == pytest.approx(0.2)
        assert box.y0 * 2 == pytest.approx(0.4)
        assert figure.get_layout_engine() is None


def test_gaps_between_small_multiples_are_inches() -> None:
    _, axes = style.new_figure(width=6.0, height=3.0, rows=2, cols=3, wspace=0.3, hspace=0.25)
    first, right, below = (axes[i].get_position() for i in ((0, 0), (0, 1), (1, 0)))

    assert axes.shape == (2, 3)
    assert (right.x0 - first.x1) * 6 == pytest.approx(0.3)
    assert (first.y0 - below.y1) * 3 == pytest.approx(0.25)


def test_margins_that_leave_no_room_are_refused() -> None:
    with pytest.raises(ValueError, match="No room"):
        style.new_figure(width=1.0, height=1.0, left=0.6, right=0.5)


def test_settings_before_are_back_after_even_if_drawing_fails() -> None:
    before = dict(mpl.rcParams)

    def fails() -> None:
        with style.figure_style():
            assert mpl.rcParams["svg.fonttype"] == "none"
            raise ArithmeticError

    with pytest.raises(ArithmeticError):
        fails()
    assert dict(mpl.rcParams) == before


def test_what_someone_set_before_does_not_show() -> None:
    plain = drawn()
    with mpl.rc_context({"lines.linewidth": 9, "axes.facecolor": "red", "font.size": 30}):
        assert drawn() == plain


def test_no_figure_stays_open() -> None:
    drawn()
    figure = plt.figure()
    style.figure_block(figure, alt="x")

    assert plt.get_fignums() == []


def test_the_shipped_font_is_used() -> None:
    style.register_fonts()
    found = font_manager.findfont(font_manager.FontProperties(family="Source Sans Pro", weight=400))

    assert found.endswith("SourceSansPro-Regular.ttf")


def _luminance(colour: str) -> float:
    # Relative luminance and contrast as WCAG 2.1 defines them, https://www.w3.org/TR/WCAG21/#dfn-relative-luminance
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colour", [style.INK, style.MUTED, style.ACCENT])
def test_text_colours_can_be_read_on_white(colour: str) -> None:
    assert _contrast(colour, "#ffffff") >= 4.5


def test_the_player_and_the_room_differ_without_colour() -> None:
    assert _contrast(style.ACCENT, style.ROOM) >= 2
    assert _contrast(style.ACCENT, style.BAND) >= 3
