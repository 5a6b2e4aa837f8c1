"""The one pass over the rows: rows that the model cannot tell apart become one cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt

from lbeval.errors import FitError
from lbeval.stats.reml.layout import distinct

if TYPE_CHECKING:
    from collections.abc import Sequence

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.integer[Any]]

_SAMPLE = 20_000
_CHUNK = 65_536


@dataclass(frozen=True, eq=False)
class Term:
    """One random-effect term.

    Attributes
    ----------
    name
        Name of the term, unique in a model.
    codes
        (n,) level of each row, 0..n_levels-1. Levels without a row are allowed.
    n_levels
        Number of levels.
    covariate
        None for one effect a level (intercepts). An (n,) array for a correlated intercept and slope
        a level, with an unstructured 2x2 covariance matrix.
    """

    name: str
    codes: IntArray
    n_levels: int
    covariate: FloatArray | None = None

    @property
    def width(self) -> int:
        """Effects a level: 1, or 2 with a slope."""
        return 1 if self.covariate is None else 2


@dataclass(frozen=True, eq=False)
class Cells:
    """Distinct combinations of codes, covariates, fixed-effect row and residual group; m of them.

    Cells are sorted by residual group. `total` is the sum of y, `within` (G,) the sum of squares of
    y about the cells' means, summed over the cells of each group.
    """

    codes: tuple[IntArray, ...]
    covariates: tuple[FloatArray | None, ...]
    x: FloatArray
    group: IntArray
    n_groups: int
    count: FloatArray
    total: FloatArray
    within: FloatArray


def gather(
    y: npt.NDArray[Any], x: npt.NDArray[Any], terms: Sequence[Term], residual_group: IntArray | None
) -> Cells:
    """Collapse n rows into cells.

    Raises
    ------
    FitError
        When lengths differ, a value is missing, or a code lies outside its levels.
    """
    values = np.asarray(y, dtype=np.float64)
    n = values.shape[0]
    _check_rows(values, x, terms, residual_group)
    group = np.zeros(n, dtype=np.int64) if residual_group is None else np.asarray(residual_group)
    n_groups = int(group.max()) + 1
    factors = [(term.codes, term.n_levels) for term in terms]
    if n_groups > 1:
        factors.append((group, n_groups))
    key, n_keys = _refine(_distinct(factors, n), x, [t.covariate for t in terms if t.covariate is not None])

    first = np.empty(n_keys, dtype=np.int64)
    first[key[::-1]] = np.arange(n - 1, -1, -1)
    count = np.bincount(key, minlength=n_keys).astype(np.float64)
    total = np.bincount(key, weights=values, minlength=n_keys).astype(np.float64)
    away = values - (total / count)[key]
    spread = np.bincount(key, weights=away * away, minlength=n_keys)

    cell_group = group[first].astype(np.int64)
    order = np.argsort(cell_group, kind="stable")
    first = first[order]
    covariates = tuple(
        None if t.covariate is None else np.asarray(t.covariate, dtype=np.float64)[first] for t in terms
    )
    cell_x = np.ascontiguousarray(x[first], dtype=np.float64)
    for array in (cell_x, *(c for c in covariates if c is not None)):
        if not np.isfinite(array).all():
            message = "a fixed effect or a covariate is missing or infinite; leave those rows out"
            raise FitError(message)
    return Cells(
        codes=tuple(t.codes[first].astype(np.int64) for t in terms),
        covariates=covariates,
        x=cell_x,
        group=cell_group[order],
        n_groups=n_groups,
        count=count[order],
        total=total[order],
        within=np.bincount(cell_group, weights=spread, minlength=n_groups).astype(np.float64),
    )


def _check_rows(
    y: npt.NDArray[Any], x: npt.NDArray[Any], terms: Sequence[Term], residual_group: IntArray | None
) -> None:
    n = y.shape[0]
    if n == 0:
        message = "no scores to fit"
        raise FitError(message)
    if not np.isfinite(y).all():
        message = "a score is missing or infinite; leave those rows out before fitting"
        raise FitError(message)
    if x.ndim != 2 or x.shape[0] != n:
        message = f"the fixed effects have shape {x.shape}, the scores need ({n}, p)"
        raise FitError(message)
    for term in terms:
        _check_codes(f"term '{term.name}'", term.codes, term.n_levels, n)
        if term.covariate is not None and term.covariate.shape != (n,):
            message = f"term '{term.name}': the covariate has shape {term.covariate.shape}, not ({n},)"
            raise FitError(message)
    if residual_group is not None:
        codes = np.asarray(residual_group)
        _check_codes("the residual groups", codes, int(codes.max(initial=0)) + 1, n)


def _check_codes(what: str, codes: IntArray, n_levels: int, n: int) -> None:
    if codes.shape != (n,):
        message = f"{what}: {codes.shape[0]} codes for {n} scores"
        raise FitError(message)
    if int(codes.min()) < 0 or int(codes.max()) >= n_levels:
        message = f"{what}: a code lies outside 0..{n_levels - 1}"
        raise FitError(message)


def _distinct(factors: list[tuple[IntArray, int]], n: int) -> tuple[IntArray, int]:
    """Key of the combination of all factors, by joining as few of them as determine the rest."""
    key: IntArray = np.zeros(n, dtype=np.int64)
    n_keys = 1
    left = sorted(factors, key=lambda factor: factor[1])
    if left:
        codes, size = left.pop()
        key, n_keys = _dense(codes.astype(np.int64), size)
    sample = slice(None, None, max(1, n // _SAMPLE))
    while left:
        open_factors = [f for f in left if not _determined(key[sample], n_keys, f[0][sample])]
        if not open_factors:
            open_factors = [f for f in left if not _determined(key, n_keys, f[0])]
            if not open_factors:
                break
        codes, size = open_factors[0]
        key, n_keys = _dense(key * size + codes, n_keys * size)
        left = [f for f in left if f[0] is not codes]
    return key, n_keys


def _determined(key: IntArray, n_keys: int, codes: npt.NDArray[Any]) -> bool:
    table = np.empty(n_keys, dtype=codes.dtype)
    table[key] = codes
    return bool((table[key] == codes).all())


def _dense(key: IntArray, size: int) -> tuple[IntArray, int]:
    """Renumber keys in 0..size-1 to the ones that occur."""
    found, number = distinct(key, size)
    return number, int(found.shape[0])


def _refine(keys: tuple[IntArray, int], x: FloatArray, covariates: list[FloatArray]) -> tuple[IntArray, int]:
    """Split cells until fixed-effect rows and covariates are constant in each."""
    key, n_keys = keys
    columns = [np.asarray(c) for c in covariates]
    varying = np.flatnonzero(_varying(key, n_keys, x))
    columns.extend(x[:, j] for j in varying)
    for column in columns:
        if n_keys == key.shape[0]:
            break
        if not _determined(key, n_keys, column):
            found, inverse = np.unique(column, return_inverse=True)
            key, n_keys = _dense(key * found.shape[0] + inverse, n_keys * int(found.shape[0]))
    return key, n_keys


def _varying(key: IntArray, n_keys: int, x: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether each column of x varies inside a cell; row-wise chunks keep the memory traffic low."""
    n, p = x.shape
    first = np.empty(n_keys, dtype=np.int64)
    first[key] = np.arange(n)
    cell_x = x[first]
    varying = np.zeros(p, dtype=bool)
    for start in range(0, n, _CHUNK):
        rows = slice(start, start + _CHUNK)
        varying |= (x[rows] != cell_x[key[rows]]).any(axis=0)
    return varying
