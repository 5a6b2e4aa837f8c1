"""Choice of the order of elimination from the nesting of the terms.

A term is nested in a factor when each of its levels meets one level of the factor only. Columns nested in
different levels of a factor never meet, so each level can be eliminated by itself: a chain of finer factors
(game, player in game, ...) gives a tree of blocks, what is nested in none of them a dense root. The finest
blocks are small and many; they are eliminated in batches, a batch for each level of a coarser factor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from lbeval.stats.reml.products import Products
    from lbeval.stats.reml.rows import FloatArray

# Rough costs, in floating-point operations of a dense product.
_VISIT = 2e6
_MOVE = 20.0
_SMALL = 4.0
_MAX_BLOCK = 48


@dataclass(frozen=True)
class Scheme:
    """An order of elimination.

    Attributes
    ----------
    chain
        Factors (terms) whose levels are eliminated one by one, coarse to fine.
    leaf
        Factor whose levels are small blocks, eliminated in batches before the chain; None for none.
    batch
        Factor whose levels are the batches; None for one batch.
    depth
        By term: 0 root, i for the i-th factor of the chain, len(chain) + 1 for the leaves.
    """

    chain: tuple[int, ...]
    leaf: int | None
    batch: int | None
    depth: tuple[int, ...]


class _Meetings:
    """How many columns of one term the levels of another meet."""

    def __init__(self, products: Products) -> None:
        layout = products.layout
        self.n_terms = len(layout.sizes)
        self.sizes = layout.sizes
        self.widths = layout.widths
        self.n_fixed = layout.n_fixed
        counts = np.zeros((self.n_terms + 1, self.n_terms + 1))
        for s in products.pattern.segments:
            counts[s.first, s.second] = counts[s.second, s.first] = s.i.shape[0]
        size = np.array([*layout.sizes, 1.0])
        width = np.array([*layout.widths, 1.0])
        # Columns of term h that one level of term k meets on average.
        self.columns: FloatArray = counts * width / size[:, None]
        self.nested = [
            [counts[k, h] == layout.sizes[k] for h in range(self.n_terms)] for k in range(self.n_terms)
        ]
        # Levels of a factor must not meet each other, as they may through an absorbed term.
        self.factors = [k for k in range(self.n_terms) if self.nested[k][k]]

    def touched(self, factor: int, terms: list[int]) -> float:
        """Columns of the terms, and of X, that one level of a factor meets."""
        return float(self.columns[factor, terms].sum() + self.columns[factor, self.n_terms])

    def width(self, terms: list[int]) -> int:
        """Columns of the terms."""
        return sum(self.sizes[k] * self.widths[k] for k in terms)


def choose(products: Products) -> Scheme:
    """Cheapest of the schemes."""
    meetings = _Meetings(products)
    return min(schemes(products), key=lambda scheme: _cost(meetings, scheme))


def schemes(products: Products) -> Iterator[Scheme]:
    """Chains of up to two factors, with or without leaves; the first is one dense block."""
    meetings = _Meetings(products)
    for chain in _chains(meetings):
        for leaf, batch in _leaves(meetings, chain):
            yield Scheme(chain, leaf, batch, _depths(meetings, chain, leaf))


def _chains(meetings: _Meetings) -> Iterator[tuple[int, ...]]:
    yield ()
    for a in meetings.factors:
        yield (a,)
        for b in meetings.factors:
            if a != b and meetings.nested[b][a]:
                yield (a, b)


def _leaves(meetings: _Meetings, chain: tuple[int, ...]) -> Iterator[tuple[int | None, int | None]]:
    yield None, None
    for leaf in meetings.factors:
        if leaf in chain or (chain and not meetings.nested[leaf][chain[-1]]):
            continue
        if not chain:
            yield leaf, None
        for batch in meetings.factors:
            inside = not chain or meetings.nested[batch][chain[-1]]
            if batch != leaf and inside and meetings.nested[leaf][batch]:
                yield leaf, batch


def _depths(meetings: _Meetings, chain: tuple[int, ...], leaf: int | None) -> tuple[int, ...]:
    out = []
    for k in range(meetings.n_terms):
        if leaf is not None and meetings.nested[k][leaf]:
            out.append(len(chain) + 1)
        else:
            out.append(max((i + 1 for i, f in enumerate(chain) if meetings.nested[k][f]), default=0))
    return tuple(out)


def _cost(meetings: _Meetings, scheme: Scheme) -> float:
    root = [k for k, d in enumerate(scheme.depth) if d == 0]
    size = meetings.width(root) + meetings.n_fixed
    total = size**3 + _MOVE * size**2
    for i, factor in enumerate(scheme.chain):
        own = meetings.width([k for k, d in enumerate(scheme.depth) if d == i + 1]) / meetings.sizes[factor]
        touched = meetings.touched(factor, [k for k, d in enumerate(scheme.depth) if d <= i])
        front = own + touched
        total += meetings.sizes[factor] * (_VISIT + own**3 + 3 * own * touched * front + _MOVE * front**2)
    if scheme.leaf is None:
        return float(total)
    last = len(scheme.chain) + 1
    outside = [k for k, d in enumerate(scheme.depth) if d < last]
    columns = meetings.width([k for k, d in enumerate(scheme.depth) if d == last])
    block = columns / meetings.sizes[scheme.leaf]
    if block > _MAX_BLOCK:
        return float(np.inf)
    if scheme.batch is None:
        batches, touched = 1, float(meetings.width(outside) + meetings.n_fixed)
    else:
        batches, touched = meetings.sizes[scheme.batch], meetings.touched(scheme.batch, outside)
    inner = columns * (touched * (3 * touched + _SMALL * 4 * block + _MOVE) + _SMALL * block**2)
    return float(total + inner + batches * (_VISIT + _MOVE * touched**2))
