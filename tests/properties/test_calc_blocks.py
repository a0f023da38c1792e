"""Many at once give what each gives alone, whatever the shapes and the size of a block."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehang.calc._blocks import BLOCK, in_blocks
from rehang.calc.conformity import p_inside_normal, p_inside_trapezoid
from rehang.calc.leakage import leak_area_ratio, reading_from_area_ratio
from rehang.calc.spread import ROWS, p_inside_spread

SHAPES = [(), (1,), (5,), (4, 1), (4, 5), (3, 4, 5), (3, 1, 1)]


@given(st.lists(st.sampled_from(SHAPES), min_size=2, max_size=3), st.integers(1, 70))
def test_blocks_of_any_size_are_the_whole(shapes, block):
    rng = np.random.default_rng(len(shapes))
    values = [np.asarray(rng.standard_normal(shape)) for shape in shapes]

    def product(*given: np.ndarray) -> np.ndarray:
        assert max(one.size for one in given) <= block
        return np.asarray(np.prod(np.broadcast_arrays(*given), axis=0))

    whole = np.prod(np.broadcast_arrays(*values), axis=0)
    found = in_blocks(product, *values, block=block)
    assert np.shape(found) == np.shape(whole)
    assert np.array_equal(found, whole)


MANY = BLOCK + 3
BULK = [
    pytest.param(lambda x: p_inside_normal(x, 2.0, -5, 5), MANY, id="normal"),
    pytest.param(lambda x: p_inside_trapezoid(x, 2.0, 1.0, -5, 5), MANY, id="trapezoid"),
    pytest.param(lambda x: leak_area_ratio(6e5, 3e5 + 2.9e4 * x, 1e5), MANY, id="leak"),
    pytest.param(lambda x: reading_from_area_ratio(np.exp(x), 6e5, 1e5), MANY, id="reading"),
    pytest.param(lambda x: p_inside_spread(x, 2.0, 1.0, 1.0, -5, 5), 2 * ROWS + 3, id="spread"),
]


@pytest.mark.parametrize(("function", "size"), BULK)
def test_a_block_ends_without_a_seam(function, size):
    x = np.linspace(-10, 10, size)
    found = function(x)
    assert found.shape == (size,)
    at = np.r_[0:3, ROWS - 2 : ROWS + 2, size - 7 : size]
    assert found[at] == pytest.approx([function(x[[i]])[0] for i in at], rel=1e-15)
