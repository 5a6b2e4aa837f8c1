"""How figures look: shipped fonts, one palette, fixed sizes and margins, the same bytes every time."""

from __future__ import annotations

import io
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from cycler import cycler
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lbeval.report.glyphs import FALLBACK, SANS, font_files, printable
from lbeval.report.parts import Text
from lbeval.report.pictures import FigureBlock

INK = "#1a1a1a"
MUTED = "#595959"
ACCENT = "#1f4e79"
ROOM = "#8c8c8c"
RULE = "#b3b3b3"
BAND = "#e3e3e3"

TEXT_WIDTH = 6.5
"""Width of the text column in inches, on Letter and on A4."""

_POINTS = {"small": 7.5, "normal": 8.5}
_lock = threading.Lock()

SETTINGS: dict[Any, Any] = {
    "axes.axisbelow": True,
    "axes.edgecolor": RULE,
    "axes.grid": False,
    "axes.labelcolor": MUTED,
    "axes.labelsize": _POINTS["normal"],
    "axes.linewidth": 0.6,
    "axes.prop_cycle": cycler(color=[ACCENT, ROOM, INK, MUTED]),
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlelocation": "left",
    "axes.titlesize": _POINTS["normal"],
    "axes.titleweight": "bold",
    "axes.unicode_minus": True,
    "figure.autolayout": False,
    "figure.constrained_layout.use": False,
    "figure.dpi": 72.0,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "font.family": [SANS, FALLBACK],
    "font.size": _POINTS["normal"],
    "grid.color": BAND,
    "grid.linewidth": 0.5,
    "legend.fontsize": _POINTS["small"],
    "legend.frameon": False,
    "lines.linewidth": 1.4,
    "lines.markersize": 5.0,
    "savefig.bbox": "standard",
    "savefig.facecolor": "none",
    "svg.fonttype": "none",
    "svg.hashsalt": "lbeval",
    "text.color": INK,
    "text.parse_math": False,
    "text.usetex": False,
    "xtick.color": RULE,
    "xtick.labelcolor": MUTED,
    "xtick.labelsize": _POINTS["small"],
    "xtick.major.size": 2.5,
    "xtick.major.width": 0.6,
    "ytick.color": RULE,
    "ytick.labelcolor": INK,
    "ytick.labelsize": _POINTS["normal"],
    "ytick.major.size": 0.0,
    "ytick.major.width": 0.6,
}


@cache
def register_fonts() -> None:
    """Make the shipped fonts known to matplotlib; once a process."""
    with _lock:
        known = {entry.fname for entry in font_manager.fontManager.ttflist}
        for file in font_files():
            if str(file) not in known:
                font_manager.fontManager.addfont(str(file))


@contextmanager
def figure_style() -> Iterator[None]:
    """Draw in the pages' style inside the context; the settings before are back after it."""
    register_fonts()
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(SETTINGS)
        yield


def new_figure(
    *,
    width: float = TEXT_WIDTH,
    height: float,
    left: float = 0.5,
    right: float = 0.1,
    top: float = 0.25,
    bottom: float = 0.35,
    rows: int = 1,
    cols: int = 1,
    wspace: float = 0.2,
    hspace: float = 0.3,
    sharex: bool = False,
    sharey: bool = False,
) -> tuple[Figure, Any]:
    """Make a figure of a fixed size with fixed margins, all in inches.

    Parameters
    ----------
    width, height : size of the figure
    left, right, top, bottom : margins around the axes
    rows, cols : grid of axes
    wspace, hspace : gaps between axes, in inches
    sharex, sharey : one scale for all axes

    Returns
    -------
    tuple
        The figure, and its `Axes` or, for more than one, an array (rows, cols) of them.

    Raises
    ------
    ValueError
        If the margins leave no room.
    """
    inner_width = (width - left - right - wspace * (cols - 1)) / cols
    inner_height = (height - top - bottom - hspace * (rows - 1)) / rows
    if min(inner_width, inner_height) <= 0:
        raise ValueError(f"No room is left in a figure of {width} by {height} inches.")
    figure = Figure(figsize=(width, height))
    grid: npt.NDArray[np.object_] = np.atleast_2d(
        figure.subplots(
            rows,
            cols,
            sharex=sharex,
            sharey=sharey,
            squeeze=False,
            gridspec_kw={
                "left": left / width,
                "right": 1 - right / width,
                "top": 1 - top / height,
                "bottom": bottom / height,
                "wspace": wspace / inner_width,
                "hspace": hspace / inner_height,
            },
        ),
    )
    axes: Axes | npt.NDArray[np.object_] = grid[0, 0] if grid.size == 1 else grid
    return figure, axes


def drawable(text: str) -> str:
    """Return text a figure can show: glyphs the fonts lack and control characters become a visible box."""
    return printable(text)


def svg_of(figure: Figure) -> str:
    """Return the figure as SVG: text as text, no date, the same bytes every time."""
    register_fonts()
    held = io.StringIO()
    names = ("svg.fonttype", "svg.hashsalt", "text.parse_math", "savefig.bbox")
    fixed: dict[Any, Any] = {name: SETTINGS[name] for name in names}
    with mpl.rc_context(fixed), warnings.catch_warnings():
        # A glyph that is missing is replaced when the page is set.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from font", category=UserWarning)
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure.savefig(held, format="svg", metadata=nothing)
    return printable(held.getvalue())


def figure_block(figure: Figure, *, alt: str, caption: Text = "") -> FigureBlock:
    """Turn a figure into a block of its own size, and close it.

    Parameters
    ----------
    figure : any matplotlib figure
    alt : what the figure shows, in words; required
    caption : text below the figure
    """
    width = float(figure.get_size_inches()[0])
    block = FigureBlock(svg=svg_of(figure), alt=alt, caption=caption, width=width)
    pyplot = sys.modules.get("matplotlib.pyplot")
    if pyplot is not None:
        pyplot.close(figure)
    figure.clear()
    return block
