"""Profile-likelihood limits of Weibull shape, scale, mean life and B10, every group at once.

The likelihood of a group sees its ages only through H(shape), a smooth function. Its logarithm is taken at
a few Chebyshev points between the limits of the shape; on that curve the extremes of each quantity along
the edge of the likelihood region are found, and H is then computed exactly at those shapes.
"""

import numpy as np
from scipy.special import chdtri, gammaln

from jobs.reliability.ages import LogAges

NODES, GRID, MOST_STEPS = 20, 65, 60
LEAST_SHAPE = 1e-4  # below it a shape counts as 0
QUANTITIES = ("scale", "mean", "b10")


def profile_limits(ages: LogAges, shape, best, foot, level):
    """Logarithms of `<quantity>_low` and `<quantity>_high` for shape, scale, mean and b10, arrays (n,).

    shape, best: the maximum and its log likelihood; foot: the profile's value as the shape goes to 0. Without
    a lower limit of the shape (foot within the region) it and the limits of all the others are nan.
    Source: Lawless (2003), 5.2.2; the region's extremes are the limits of the profile of each quantity.
    """
    drop = chdtri(1, 1 - level) / 2
    bounded = best - foot > drop
    low = _shape_limit(ages, shape, best, drop, -1.0, ~bounded)
    high = _shape_limit(ages, shape, best, drop, 1.0, np.zeros(low.size, bool))
    found = {"shape_low": low, "shape_high": high}
    for name in QUANTITIES:
        found |= {f"{name}_low": np.full(low.size, np.nan), f"{name}_high": np.full(low.size, np.nan)}
    keep = np.isfinite(low) & np.isfinite(high)
    if keep.any():
        some = ages.of(keep)
        region = Region(some, best[keep] - drop, low[keep], high[keep])
        for name, values in region.extremes().items():
            found[name][keep] = values
    return found


def _shape_limit(ages: LogAges, shape, best, drop, side, without):
    """Log of the shape at which the profile has fallen by `drop`, on one side; nan where there is none.

    Newton on the signed root of the fall, which is nearly a straight line in log shape.
    """
    r, log_sum, goal = ages.failures, ages.failed_log_sum, np.sqrt(drop)
    x0 = np.log(shape)
    inner, outer = x0.copy(), np.full(x0.size, side * np.inf)
    x = x0 + side * np.minimum(goal / np.sqrt(r / 2), 1.0)
    done = without.copy()
    for _ in range(MOST_STEPS):
        x = np.maximum(x, np.log(LEAST_SHAPE))
        b = np.exp(x)
        h, h1 = ages.moments(b, order=1)
        fall = best - (r * np.log(b * r / h) - r + (b - 1) * log_sum)
        slope = b * (r * h1 / h - log_sum) - r
        root = np.sqrt(np.maximum(fall, 1e-300))
        short = root < goal
        inner, outer = np.where(short, x, inner), np.where(short, outer, x)
        good = slope * side > 0
        to = x + np.where(good, np.clip((goal - root) * 2 * root / np.where(good, slope, 1.0), -1.0, 1.0), side)
        middle = np.where(np.isinf(outer), x + side, (inner + outer) / 2)
        to = np.where(((to - inner) * side > 0) & ((outer - to) * side > 0), to, middle)
        x, done = np.where(done, x, to), done | (np.abs(to - x) <= 1e-7)  # a group that is done stays where it is
        if done.all():
            break
    return np.where(done & ~without & (x > np.log(2 * LEAST_SHAPE)), x, np.nan)


class Region:
    """All (shape, scale) whose log likelihood is at least `floor`, its shapes between exp(low) and exp(high)."""

    def __init__(self, ages: LogAges, floor, low, high):
        self.ages, self.floor = ages, floor
        self.middle, self.half = (low + high) / 2, (high - low) / 2
        turn = np.pi * (np.arange(NODES) + 0.5) / NODES
        log_h = np.stack(
            [np.log(ages.moments(np.exp(x), order=0)[0]) for x in self.middle - self.half * np.cos(turn)[:, None]],
            axis=1,
        )
        cosines = np.cos(np.outer(turn, np.arange(NODES)))
        self.terms = _products(log_h, cosines) * (2 / NODES)
        self.terms[:, 0] /= 2

    def extremes(self):
        """Logarithms of the lowest and highest scale, mean and b10 in the region."""
        angle = np.linspace(0, np.pi, GRID)
        log_h = _products(self.terms, np.cos(np.outer(np.arange(NODES), angle)))
        values = self._edge(self.middle[:, None] - self.half[:, None] * np.cos(angle), log_h)
        place = values.argmax(axis=2).clip(1, GRID - 2)
        about = place[..., None] + np.arange(-1, 2)
        turn = _vertex(angle[about], np.take_along_axis(values, about, axis=2))
        turn = self._refined(turn, 0.01)
        return self._exact(turn)

    def _edge(self, x, log_h):
        """The six quantities, each with the sign that makes it a maximum: (6, n, points)."""
        expand = (slice(None),) + (None,) * (x.ndim - 1)
        r, log_sum = self.ages.failures[expand], self.ages.failed_log_sum[expand]
        b = np.exp(x)
        height = r * (x + np.log(r) - log_h) - r + (b - 1) * log_sum - self.floor[expand]
        deep, shallow = _roots(np.maximum(height / r, 0.0))
        centre = (log_h - np.log(r)) / b + np.log(self.ages.largest)[expand]
        low, high = centre - shallow / b, centre - deep / b
        mean, tenth = gammaln(1 + 1 / b), np.log(-np.log(0.9)) / b
        return np.stack([-low, high, -(low + mean), high + mean, -(low + tenth), high + tenth])

    def _refined(self, turn, step):
        """Better angles (6, n) of the extremes by a parabola through three close points of the curve."""
        near = np.clip(turn[..., None] + step * np.arange(-1, 2), 0, np.pi)
        log_h = np.einsum("snpk,nk->snp", np.cos(near[..., None] * np.arange(NODES)), self.terms)
        x = self.middle[:, None] - self.half[:, None] * np.cos(near)
        values = np.stack([self._edge(x[s], log_h[s])[s] for s in range(6)])
        return _vertex(near, values)

    def _exact(self, turn):
        """Values at the angles found, from H itself."""
        found = {}
        for s, (name, end) in enumerate((name, end) for name in QUANTITIES for end in ("low", "high")):
            x = self.middle - self.half * np.cos(turn[s])
            log_h = np.log(self.ages.moments(np.exp(x), order=0)[0])
            found[f"{name}_{end}"] = self._edge(x, log_h)[s] * (1 if end == "high" else -1)
        return found


def _products(a, b):
    """a @ b, each row to the last digit what it is by itself: @ adds in an order that hangs on the number of rows."""
    return np.einsum("ik,kj->ij", a, b)


def _vertex(x, y):
    """Where the parabola through three equally spaced points has its top, kept between the outer two."""
    (x0, x1, x2), (y0, y1, y2) = np.moveaxis(x, -1, 0), np.moveaxis(y, -1, 0)
    bend = y0 - 2 * y1 + y2
    shift = np.where(bend < 0, (y0 - y2) / np.where(bend < 0, 2 * bend, 1.0), 0.0)
    return np.clip(x1 + shift * (x2 - x0) / 2, x0, x2)


def _roots(height):
    """Both y with exp(y) - 1 - y = height >= 0: (negative, positive). Newton from the series in sqrt."""
    s = np.sqrt(2 * height)
    deep = np.where(s < 2, -s - s * s / 6 - s**3 / 36, -height - 1)
    shallow = np.where(s < 2, s - s * s / 6 + s**3 / 36, np.log1p(height + np.log1p(height)))
    for _ in range(5):
        for y in (deep, shallow):
            slope = np.expm1(y)
            y -= np.where(slope == 0, 0.0, (slope - y - height) / np.where(slope == 0, 1.0, slope))
    return deep, shallow
