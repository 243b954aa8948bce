"""Regions on a lattice of places."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from thermsim.assess.fields.lattice import connected


def test_what_is_connected_with_a_place_is_what_scipy_labels_alike():
    generator = np.random.default_rng(5)
    several = 0
    for share in (0.2, 0.35, 0.5, 0.9):
        lies = generator.random((23, 17)) < share
        regions, count = ndimage.label(lies, structure=np.ones((3, 3)))
        several += count
        for i, j in np.argwhere(lies)[::7]:
            np.testing.assert_array_equal(connected(lies, i, j), regions == regions[i, j])
    assert several > 20
