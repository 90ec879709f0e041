"""Silence weighed: the pieces of a tail, and positions in care that may have left."""

import numpy as np
import pytest

from jobs.reliability.history.silent import LOST, SILENT, Quiet, cut_tails
from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.silence import Silence, still_in_care
from jobs.reliability.unseen import taken_over

RATES = Silence(0.5, 0.4, 0.6, 0.1, 0.05, 0.2, 100)
NONE = tuple(np.zeros(0, kind) for kind in (float, float, bool, float, int))


def test_a_tail_is_cut_into_pieces_of_91_days_from_the_last_contact():
    quiet = Quiet(np.array([True, False]), np.array([1000, 1000]), RATES)
    row, begin, end, weight, ending = cut_tails(
        np.array([0, 0, 1]), np.array([500, 1000, 500]), np.array([1200, 1100, 1200]), quiet, as_of=1200
    )
    assert list(zip(row.tolist(), begin.tolist(), end.tolist(), ending.tolist(), strict=True)) == [
        (0, 500, 1000, LOST), (0, 1000, 1091, SILENT), (0, 1091, 1182, SILENT), (0, 1182, 1200, SILENT),
        (1, 1000, 1091, SILENT), (1, 1091, 1100, SILENT), (2, 500, 1200, -1),
    ]  # fmt: skip
    assert weight[[0, 6]].tolist() == [1, 1]
    days = np.linspace(0, 91, 20001) / 365.25
    assert weight[1] == pytest.approx(still_in_care(days, 200 / 365.25, 0.5, 0.1).mean(), rel=1e-6)
    assert quiet.chance(1200).tolist() == pytest.approx([float(still_in_care(200 / 365.25, 200 / 365.25, 0.5, 0.1)), 1])


def test_a_silent_tail_says_with_its_weight_what_a_position_watched_so_long_says():
    def height(*pieces):
        entry, exit, weight = (np.array(column) for column in zip(*pieces, strict=True))
        over = taken_over([0] * len(pieces), entry, exit, [False] * len(pieces), weight, [0] * len(pieces))
        joint = JointLikelihood(NONE, over, 1, lost_rate=0.02, many=())
        return joint(np.array([[np.log(2.5)], [np.log(13.0 / joint.largest[0])]]))[0]

    whole, short = height((8.0, 10.0, 1.0)), height((8.0, 9.0, 1.0))
    assert height((8.0, 9.0, 1.0), (9.0, 10.0, 0.4)) == pytest.approx(0.4 * whole + 0.6 * short, rel=2e-3)


def test_the_grid_of_many_positions_gives_the_likelihood_of_each_by_itself():
    rng = np.random.default_rng(1)
    age, later = rng.uniform(0.5, 14, 600), rng.uniform(0.1, 6, 600)
    over = taken_over(np.arange(600), age, age + later, rng.random(600) < 0.3, np.ones(600), np.zeros(600, int))
    each, grid = (JointLikelihood(NONE, over, 1, lost_rate=0.02, **how) for how in ({"many": ()}, {}))
    assert grid.grids
    assert not grid.kept
    for shape in (0.8, 1.5, 2.5):
        at = np.array([[np.log(shape)], [np.log(0.7)]])
        assert grid(at)[0] == pytest.approx(each(at)[0], rel=1e-5)
