"""Renewals of a Weibull life: how many are expected by an age, and how a position of unseen past carries on."""

from dataclasses import dataclass
from functools import cache

import numpy as np

Array = np.ndarray
STEPS, AT_ONCE, ALONE = 128, 16_000, 2**18  # numbers; products that linear algebra does on one processor


@dataclass(frozen=True)
class RenewalTable:
    """Expected renewals M at 0, h, 2h, ... up to `reach`, in units of the scale: (shapes, steps + 1)."""

    shape: Array
    reach: float
    expected: Array

    def at(self, age):
        """M at ages (k,) within reach, for every shape: (shapes, k), linear between grid points in M."""
        place = np.asarray(age, float) / self.reach * (self.expected.shape[1] - 1)
        before = np.minimum(place.astype(int), self.expected.shape[1] - 2)
        share = place - before
        return self.expected[:, before] * (1 - share) + self.expected[:, before + 1] * share


def survival(age, shape):
    """exp(-age ** shape), age in units of the scale."""
    return np.exp(-np.power(age, shape))


def renewal_table(shape, reach, steps=None, lost_rate=0.0) -> RenewalTable:
    """Renewal function M(t) = F(t) + integral of F(t - x) dM(x) of Weibull lives with scale 1.

    shape: (n,) > 0; reach: largest age in units of the scale; lost_rate: renewals per unit of the scale for
    other causes than failure (then M belongs to exp(-t ** shape - lost_rate t)). The midpoint scheme, run with
    `steps` (usually more for steep shapes and far reaches) and twice as many and extrapolated; for shapes from 0.8 the
    error is below 1e-4.
    Source: Xie (1989), Communications in Statistics: Simulation and Computation 18, 281-293.
    """
    shape = np.atleast_1d(np.asarray(shape, float))
    steps = steps or int(STEPS * max(1.0, shape.max() * reach / 4))
    coarse = _midpoint(shape, reach, steps, lost_rate)
    fine = _midpoint(shape, reach, 2 * steps, lost_rate)[:, ::2]
    return RenewalTable(shape, float(reach), fine + (fine - coarse) / 3)


def _midpoint(shape, reach, steps, lost_rate):
    """Xie's scheme: the convolution is taken at the middle of each step, one step after the other."""
    at = np.arange(1, steps + 1) * (reach / steps)
    middle = at - reach / steps / 2

    def failed(t):
        return -np.expm1(-np.power(t, shape[:, None]) - lost_rate * t)

    whole, half = failed(at), failed(middle)
    expected, grown = np.zeros((shape.size, steps + 1)), np.zeros((shape.size, steps))
    for i in range(steps):
        earlier = np.einsum("nj,nj->n", half[:, i:0:-1], grown[:, :i])
        grown[:, i] = (whole[:, i] + earlier - expected[:, i]) / (1 - half[:, 0])
        expected[:, i + 1] = expected[:, i] + grown[:, i]
    return expected


def forward_survival(table: RenewalTable, age, later):
    """P(no failure for `later` | taken over at `age`, its earlier renewals unseen), both in units of the scale.

    age, later: (k,), age within the table's reach. Returns (shapes, k):
    S(age + later) + integral of S(age - s + later) dM(s) over 0 .. age, taken at the middle of each step.
    Source: Cox (1962), Renewal Theory, 5.2 (forward recurrence time).
    """
    age, later = np.broadcast_arrays(np.asarray(age, float), np.asarray(later, float))
    steps = table.expected.shape[1] - 1
    edges = age[:, None] * np.linspace(0, 1, steps + 1)
    shape = table.shape[:, None]
    result = survival(age + later, shape)
    for number, own in enumerate(table.shape):
        one = RenewalTable(table.shape[[number]], table.reach, table.expected[[number]])
        grown = np.diff(one.at(edges.ravel()).reshape(edges.shape), axis=1)
        since = age[:, None] - (edges[:, 1:] + edges[:, :-1]) / 2
        result[number] += np.sum(survival(since + later[:, None], own) * grown, axis=1)
    return result


def renewal_densities(shape, log_scale, reach, lost, steps, fine):
    """dM/dv at v = 0, 1 / fine .. 1, where the age is reach x v ** 2: (n, fine + 1).

    shape, log_scale: (n,), reach, lost: greatest age and renewals for other causes per unit of age, (n / k,), the
    same for each of k points. The density of the first life is exact; to it comes the slope of M less F, M by the
    midpoint scheme with `steps` and half as many, extrapolated. Less a twelfth of its second differences, the table
    has no error on average when it is read along straight lines.
    """
    shape, log_scale = np.ravel(shape), np.ravel(log_scale)
    reach, lost = (np.tile(values, shape.size // values.size) for values in (reach, lost))
    coarse, _ = _midpoint_by_groups(shape, log_scale, reach, lost, steps // 2)
    later, failed = _midpoint_by_groups(shape, log_scale, reach, lost, steps)
    rise = (later[::2] - coarse) / 3
    later[::2] += rise
    later[1::2] += (rise[:-1] + rise[1:]) / 2
    later[1:] -= failed
    later, columns = later.T, (column[:, None] for column in (shape, log_scale, reach, lost))
    shape, log_scale, reach, lost = columns
    density = np.empty((shape.size, fine + 1))
    some = max(min(AT_ONCE // (fine + 1), ALONE // (fine + 1) // (steps + 1)), 1)
    for begin in range(0, shape.size, some):
        rows = slice(begin, begin + some)
        _write_density(density[rows], later[rows], shape[rows], log_scale[rows], reach[rows], lost[rows])
    return density


def _write_density(density, later, shape, log_scale, reach, lost):
    """Some rows of the table, few enough for the processor's cache."""
    fine = density.shape[1] - 1
    np.matmul(later, _slopes_at_squares(later.shape[1] - 1, fine), out=density)
    np.maximum(density, 0.0, out=density)
    v = np.arange(1, fine + 1) / fine
    passed = shape * (np.log(reach) - log_scale + 2 * np.log(v))
    np.exp(passed, out=passed)
    gone = np.multiply(-lost * reach, v * v)
    passed *= shape
    share = passed - gone
    share *= 2 / v
    passed /= -shape
    passed += gone
    share *= np.exp(passed, out=passed)
    density[:, 1:] += share
    density[:, 0] = np.where(shape[:, 0] > 0.5, 0.0, density[:, 1])
    density[:, 1:-1] -= np.diff(density, 2, axis=1) / 12


@cache
def _slopes_at_squares(steps, fine):
    """Matrix (steps + 1, fine + 1): of values at equal steps of v ** 2 it makes the slopes in v at 0, 1 / fine .. 1.

    Differences of fourth order at the steps, Hermite's cubics between them.
    """
    values = np.eye(steps + 1)
    inner = np.empty_like(values)
    inner[:, 2:-2] = 8 * (values[:, 3:-1] - values[:, 1:-3]) - (values[:, 4:] - values[:, :-4])
    for place, side in ((0, 1), (steps, -1)):
        y = values[:, place::side][:, :5]
        inner[:, place] = side * (-25 * y[:, 0] + 48 * y[:, 1] - 36 * y[:, 2] + 16 * y[:, 3] - 3 * y[:, 4])
        inner[:, place + side] = side * (-3 * y[:, 0] - 10 * y[:, 1] + 18 * y[:, 2] - 6 * y[:, 3] + y[:, 4])
    v = np.arange(fine + 1) / fine
    before = np.minimum((v * v * steps).astype(int), steps - 1)
    s = v * v * steps - before
    found = np.diff(values, axis=1)[:, before]
    found *= 2 * v * steps * 6 * s * (1 - s)
    for shift, share in ((0, (1 - s) * (1 - 3 * s)), (1, s * (3 * s - 2))):
        found += inner[:, before + shift] * (2 * v * steps / 12 * share)
    return found


def _midpoint_by_groups(shape, log_scale, reach, lost, steps):
    """M at 0, 1 / steps .. 1 of the reach, (steps + 1, n), and F, the same without 0."""
    at = np.arange(1, 2 * steps + 1)[:, None] / (2 * steps)
    gone = np.log(at) + (np.log(reach) - log_scale)
    gone *= shape
    np.exp(gone, out=gone)
    gone += lost * reach * at
    np.negative(gone, out=gone)
    np.exp(gone, out=gone)
    np.subtract(1, gone, out=gone)
    half, whole = gone[::2], gone[1::2]
    total, grown = np.zeros((steps + 1, shape.size)), np.empty((steps, shape.size))
    rest = np.maximum(1 - half[0], 1e-9)
    for i in range(steps):
        np.subtract(whole[i], total[i], out=grown[i])
        if i:
            grown[i] += np.einsum("jn,jn->n", half[i:0:-1], grown[:i])
        grown[i] /= rest
        np.add(total[i], grown[i], out=total[i + 1])
    return total, whole
