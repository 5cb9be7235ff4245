r"""Which varied dimension moves which figure: first-order indices from the candidates themselves.

The first-order index of a dimension is the share of a figure's variance that would go if that dimension
were held: ``S = Var(E[y | x]) / Var(y)``. Here from given data: the candidates are sorted into parts by
their value of ``x``, and

    S = 1 - (sum of squares within the parts / (n - parts)) / (sum of squares about the mean / (n - 1))

which is the correlation ratio, freed from what chance alone would put between the parts. What the
dimensions do only together is in none of them, so the indices may sum to less than 1.

References
----------
A. Saltelli et al., *Global Sensitivity Analysis: The Primer*, Wiley 2008, ch. 4 (first-order index; chapter
from memory). E. Plischke, "An effective algorithm for computing global sensitivity indices (EASI)",
Reliability Engineering and System Safety 95 (2010) (given data; from memory). The unbiased correlation
ratio: T. L. Kelley, PNAS 21 (1935) 554-559 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: fewer candidates than this to a part tell nothing
_LEAST = 8


@dataclass(frozen=True)
class Influence:
    """First-order index, 0 to 1, of a dimension for a figure (None: too few candidates, or the figure stands still);
    ``way`` is +1 where the figure rises with it throughout, -1 where it falls, 0 where it does neither."""

    index: float | None
    way: int


def influence(x: Floats, y: Floats, edges: Floats) -> Influence:
    """Influence of a dimension on a figure.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The dimension and the figure of every candidate, any units; ``nan`` and infinite ones are left out.
    edges : ndarray
        Where the dimension's parts meet, rising.
    """
    known = np.isfinite(y)
    x, y = x[known], y[known]
    part = np.searchsorted(edges, x, side="right")
    count = np.bincount(part, minlength=len(edges) + 1)
    used = count >= 2
    n, parts = int(count[used].sum()), int(used.sum())
    if n < _LEAST * max(parts, 2):
        return Influence(None, 0)
    y = y - np.mean(y)
    mean = np.bincount(part, weights=y, minlength=count.size)[used] / count[used]
    inside = y[used[part]]
    whole = float(np.sum((inside - inside.mean()) ** 2)) / (n - 1)
    if not whole > 1e-24:
        return Influence(None, 0)
    between = float(np.sum(count[used] * mean**2)) - n * float(inside.mean()) ** 2
    within = (whole * (n - 1) - between) / max(n - parts, 1)
    step = np.diff(mean)
    way = 1 if step.size and np.all(step > 0.0) else -1 if step.size and np.all(step < 0.0) else 0
    return Influence(float(np.clip(1.0 - within / whole, 0.0, 1.0)), way)
