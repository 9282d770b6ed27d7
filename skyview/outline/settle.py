"""Neighbours that no wall parts are alike: probabilities of regions made to agree.

Each region keeps to its own word by its area, and the more the firmer it is; to its neighbours'
by the length of the border between them, and the less the higher the wall there.
"""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import spsolve

from skyview.angles import Array
from skyview.outline.coarse import Mask
from skyview.outline.regions import Regions

BOND, BOND_WALL = 400.0, 0.4
"""Pull across a pixel of border without a wall, in pixels of area; the wall at which it has fallen
by a factor e, in units of noise. Tried on pictures that were left out of the fit."""

LEAST_WORD = 0.02
"""Weight of a region that knows nothing itself, beside one that is sure."""

HELD_BOND = 0.1
"""The pull of what is held, as a share of that: it knows of itself, its neighbours may differ."""

BOUND = 0.003
"""No region is surer than this."""


def agreed(r: Regions, likely: Array, held: Mask | None = None) -> Array:
    """Probabilities (count,) that neighbours agree on; those ``held`` (count,) hardly move.

    The log-odds of the random walker with priors: Grady, 'Multilabel random walker image
    segmentation using prior models', IEEE Conference on Computer Vision and Pattern Recognition
    2005, equation 9.

    >>> from skyview.outline.regions import regions_of
    >>> parted = np.repeat([[0, 1]], [20, 40], axis=1) * np.ones((40, 1), int)
    >>> r = regions_of(np.zeros((40, 60), np.float32), parted)
    >>> agreed(r, np.array([0.45, 0.95])).round(1).tolist()
    [0.9, 0.9]
    """
    if r.count < 2:
        return likely.copy()
    pull = BOND * r.length * np.exp(-r.middle / BOND_WALL)
    if held is not None:
        pull = np.where(held[r.first] | held[r.second], HELD_BOND, 1.0) * pull
    half = sparse.coo_array((pull, (r.first, r.second)), shape=(r.count, r.count))
    both = half + half.T
    own = r.area * (LEAST_WORD + np.abs(2.0 * likely - 1.0))
    own = own if held is None else own + 1e6 * held
    bounded = np.clip(likely, BOUND, 1.0 - BOUND)
    odds = np.log(bounded / (1.0 - bounded))
    matrix = sparse.diags_array(np.asarray(both.sum(1)).ravel() + own) - both
    return np.asarray(1.0 / (1.0 + np.exp(-spsolve(matrix.tocsc(), own * odds))))
