"""Write data_demo again: `python -m data_demo.maker`."""

from __future__ import annotations

from pathlib import Path

from data_demo.maker.faults import write_faulty
from data_demo.maker.season import simulate_season
from data_demo.maker.small import simulate_small
from data_demo.maker.write import write_full, write_small, write_truth

SEED = 2025
"""The seed that ships; studies take it and those that follow."""


def main() -> None:
    """Write the seasons and their truths beside this package."""
    home = Path(__file__).parent.parent
    season = simulate_season(SEED)
    write_full(home / "full", season)
    write_truth(home / "full_truth.json", season.truth.as_json())
    write_faulty(home / "faulty", season)
    small = simulate_small(SEED)
    write_small(home / "small", small)
    write_truth(home / "small_truth.json", small.truth_json())


if __name__ == "__main__":
    main()
