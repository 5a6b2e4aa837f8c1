"""Published cases of tests/reference: data, expected figures, and where each figure comes from."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

FOLDER = Path(__file__).parent.parent / "reference"


class Case:
    """One folder of tests/reference; a figure without source or way of obtaining it fails."""

    def __init__(self, name: str) -> None:
        self.folder = FOLDER / name
        self.data: dict[str, Any] = json.loads((self.folder / "input.json").read_text(encoding="utf-8"))
        stored = json.loads((self.folder / "expected.json").read_text(encoding="utf-8"))
        self.expected: dict[str, dict[str, Any]] = {entry["quantity"]: entry for entry in stored["expected"]}
        for quantity, entry in self.expected.items():
            assert entry["source"], f"{name}: {quantity} has no source"
            assert entry["how_obtained"], f"{name}: {quantity} does not say how it was obtained"

    def table(self, key: str = "csv") -> dict[str, npt.NDArray[np.float64]]:
        """Columns of a CSV file of the case."""
        with (self.folder / self.data[key]).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}

    def matrix(self, key: str) -> npt.NDArray[np.float64]:
        """Array of the case; null is missing."""
        return np.array(self.data[key], dtype=float)

    def check(self, quantity: str, found: npt.ArrayLike) -> None:
        """Assert that `found` is the stored figure within its tolerance."""
        entry = self.expected[quantity]
        wanted = np.asarray(entry["value"], dtype=float)
        np.testing.assert_allclose(
            np.asarray(found, dtype=float).reshape(wanted.shape),
            wanted,
            rtol=0,
            atol=max(entry["tol"], 1e-9),
            err_msg=f"{self.folder.name}: {quantity} ({entry['source']})",
        )
