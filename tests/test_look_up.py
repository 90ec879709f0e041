import doctest

import numpy as np
import pytest

from jobs.reliability.history import ragged


def searched(sorted_keys, keys):
    """One key after the other."""
    place = {key: at for at, key in enumerate(sorted_keys.tolist())}
    return [place.get(key, -1) for key in keys.tolist()]


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("most", [3, 40, 10**12])
def test_keys_are_found_whether_they_lie_close_together_or_not(seed, most):
    rng = np.random.default_rng(seed)
    there = np.unique(rng.integers(-5, most, rng.integers(0, 30)))
    keys = np.r_[rng.integers(-10, 60, rng.integers(0, 30)), there, -(10**15), 10**15]
    assert ragged.look_up(there, keys).tolist() == searched(there, keys)
    assert ragged.look_up(there, keys[:0]).tolist() == []


def test_what_the_docstrings_say_of_runs_is_so():
    assert doctest.testmod(ragged).failed == 0
