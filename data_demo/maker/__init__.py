"""Makes the demo seasons from a seed, with their truth; `python -m data_demo.maker` writes them again."""

from data_demo.maker.season import SimulatedSeason, make_truth, simulate_season
from data_demo.maker.truth import Truth

__all__ = ["SimulatedSeason", "Truth", "make_truth", "simulate_season"]
