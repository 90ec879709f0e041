"""Maximum and profile limits of any likelihood in (log shape, log scale), many groups at once."""

import numpy as np
from scipy.special import chdtri, gammaln, stdtrit

Array = np.ndarray
STEP, MOST_STEPS, CLOSE = 1e-3, 60, 1e-4  # a step so short leaves an error of its square
LONGEST, SURE = 0.7, 4e-4  # step
LOWEST, HIGHEST = np.log(1e-3), np.log(1e3)  # of the shape
AROUND = np.array([[0, 1, -1, 0, 0, 1], [0, 0, 0, 1, -1, 1]])
DIRECTIONS, POINTS, LOOKS, NEAR_EDGE = 16, 360, 40, 0.01


def maximum(height, start, most_steps=MOST_STEPS, close=CLOSE, short=STEP):
    """Where each group's log likelihood is highest, climbed from `start` by Newton, short-stepped where it fails.

    height: function of points (2, k, groups) that gives (k, groups), -inf where it cannot be had. start: (2, groups),
    finite. Derivatives are differences over `short`. Returns the points, the heights there, minus the second
    derivatives (2, 2, groups), and which groups settled within `most_steps`: a step shorter than `close` is the last.
    """
    at, reach = np.array(start, float), np.full(start.shape[1], LONGEST)
    best, slope, bend = _derivatives(height, at, short)
    done = np.zeros(at.shape[1], bool)
    for _ in range(most_steps):
        step = np.where(done, 0.0, _step(slope, bend, reach))
        length = np.hypot(*step)
        last = ~done & (length < close) & (length < 0.99 * reach)
        at, best = np.where(last, at + step, at), best + np.where(last, np.sum(slope * step, axis=0) / 2, 0.0)
        done |= last | (length < 1e-9)
        if done.all():
            break
        to = at + np.where(done, 0.0, step)
        to[0] = np.clip(to[0], LOWEST, HIGHEST)
        new, new_slope, new_bend = _derivatives(height, to, short)
        better = new >= best - 1e-9
        take = better & ~done
        at, best = np.where(take, to, at), np.where(take, new, best)
        slope, bend = np.where(take, new_slope, slope), np.where(take, new_bend, bend)
        reach = np.where(better, np.clip(2 * length, reach, LONGEST), length / 4)
    inside = (at[0] > LOWEST + 0.01) & (at[0] < HIGHEST - 0.01)
    peaked = (bend[0, 0] > 0) & (bend[0, 0] * bend[1, 1] > bend[0, 1] ** 2)
    return at, best, bend, done & inside & peaked


def _derivatives(height, at, short):
    """Height, slope (2, n) and minus the second derivatives (2, 2, n) from six heights."""
    middle, right, left, up, down, both = height(at[:, None] + short * AROUND[:, :, None])
    with np.errstate(invalid="ignore"):
        slope = np.stack([right - left, up - down]) / (2 * short)
        b00, b11 = -(right - 2 * middle + left) / short**2, -(up - 2 * middle + down) / short**2
        b01 = -(both - right - up + middle) / short**2
        flat = ~np.isfinite(slope).all(axis=0) | ~np.isfinite(b00 + b11 + b01)
    bend = np.stack([np.stack([b00, b01]), np.stack([b01, b11])])
    return middle, np.where(flat, 0.0, slope), np.where(flat, 0.0, bend)


def settle(slopes, at, bend, most_steps=8):
    """The maximum to the last digits from a point (2, n) close by: Newton's steps with `bend` and exact slopes.

    slopes: function of points (2, n) and of the groups wanted (k,) that gives heights and slopes (3, k). The second
    derivatives are corrected by how the slopes change (symmetric, rank one). Returns the points, the heights, and
    which groups settled: a step shorter than SURE leaves a tenth of its length at most.
    """
    at, best, settled = np.array(at), np.full(at.shape[1], -np.inf), np.zeros(at.shape[1], bool)
    open_, bend = np.arange(at.shape[1]), np.array(bend)
    step = slope = np.zeros_like(at)
    for turn in range(most_steps):
        height, *now = slopes(at[:, open_], open_)
        now = np.stack(now)
        if turn:
            bend = _corrected(bend, step, slope - now)
        step, slope = _step(now, bend, 2 * LONGEST), now
        length = np.hypot(*step)
        near = np.isfinite(height) & np.isfinite(length) & (length < LONGEST)
        moved = open_[near]
        at[:, moved] += step[:, near]
        best[moved] = height[near] + np.sum(slope * step, axis=0)[near] / 2
        settled[open_[near & (length < SURE)]] = True
        on = near & (length >= SURE)
        if not on.any():
            break
        open_, bend, step, slope = open_[on], bend[:, :, on], step[:, on], slope[:, on]
    return at, best, settled


def _corrected(bend, step, change):
    """Minus the second derivatives, made to say that a step changes the slopes by minus `change`."""
    lacking = change - np.einsum("ijn,jn->in", bend, step)
    along = np.sum(lacking * step, axis=0)
    telling = np.abs(along) > 1e-8 * np.hypot(*lacking) * np.hypot(*step)
    share = np.where(telling, 1 / np.where(telling, along, 1.0), 0.0)
    return bend + np.einsum("in,jn->ijn", lacking, lacking) * share


def _step(slope, bend, reach):
    """Newton's step with the second derivatives made positive, no longer than `reach`."""
    size = np.abs(bend[0, 0]) + np.abs(bend[1, 1]) + 1e-12
    middle, half = (bend[0, 0] + bend[1, 1]) / 2, np.hypot((bend[0, 0] - bend[1, 1]) / 2, bend[0, 1])
    lift = np.maximum(0.0, 1e-3 * size - (middle - half))
    a, b, c = bend[0, 0] + lift, bend[0, 1], bend[1, 1] + lift
    step = np.stack([c * slope[0] - b * slope[1], a * slope[1] - b * slope[0]]) / (a * c - b * b)
    return step * np.minimum(1.0, reach / np.maximum(np.hypot(*step), 1e-300))


def region_limits(height, at, best, bend, level, failures=None, looks=LOOKS):
    """Profile limits of shape, scale, mean and b10: the extremes of each on the edge of the likelihood region.

    Arguments as `maximum` gives them; failures: as region_drop; looks: at the edge, at most. Returns logarithms
    {name_low, name_high: (groups,)}, nan for all where the region has no end that was found.
    """
    edge, ended = region_edge(height, at, best, bend, level, failures, looks)
    found = {}
    for name, values in _quantities(edge[0], edge[1]).items():
        found[f"{name}_low"] = np.where(ended, _extreme(values, -1), np.nan)
        found[f"{name}_high"] = np.where(ended, _extreme(values, 1), np.nan)
    return found


def region_drop(level, failures=None):
    """How far below its maximum the log likelihood of a region's edge lies: a number, or (groups,) given failures.

    Without `failures`, half the quantile of chi-square, right for many. With them (inf: many) the fall that is
    exact for the mean of so many normal ages of unknown spread, r ln(1 + t ** 2 / (r - 1)) / 2: wider for few.
    Source: Cox & Hinkley (1974), Theoretical Statistics, example 4.14 (the ratio for a normal mean; from memory).
    """
    if failures is None:
        return chdtri(1, 1 - level) / 2
    many = np.isinf(failures)
    r = np.where(many, 2.0, np.maximum(failures, 2.0))
    few = r * np.log1p(stdtrit(r - 1, (1 + level) / 2) ** 2 / (r - 1)) / 2
    return np.where(many, chdtri(1, 1 - level) / 2, few)


def region_edge(height, at, best, bend, level, failures=None, looks=LOOKS):
    """The edge of each group's likelihood region as points (2, 360, groups), and which were found within `looks`.

    The edge is followed in 16 directions and between them by its Fourier series.
    """
    drop = region_drop(level, failures)
    turn = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    spread = _spread(bend)
    ways = np.einsum("ijn,jk->ikn", spread, np.stack([np.cos(turn), np.sin(turn)]))
    reach = _reach(height, at[:, None], best, drop, ways, looks)
    fine = 2 * np.pi * np.arange(POINTS) / POINTS
    radius = _fourier(np.where(np.isfinite(reach), reach, 1.0), fine)
    edge = at[:, None] + np.einsum("ijn,jk->ikn", spread, np.stack([np.cos(fine), np.sin(fine)])) * radius
    return edge, np.isfinite(reach).all(axis=0)


def _extreme(values, side):
    """Greatest (side 1) or least (side -1) of a closed curve given at equal steps, by a parabola at the top."""
    values = side * values
    place = values.argmax(axis=0)
    before, top, after = (np.take_along_axis(values, ((place + k) % POINTS)[None], axis=0)[0] for k in (-1, 0, 1))
    bend = before - 2 * top + after
    return side * np.where(bend < 0, top - (after - before) ** 2 / np.where(bend < 0, 8 * bend, 1.0), top)


def _quantities(log_shape, log_scale):
    shape = np.exp(log_shape)
    return {
        "shape": log_shape,
        "scale": log_scale,
        "mean": log_scale + gammaln(1 + 1 / shape),
        "b10": log_scale + np.log(-np.log(0.9)) / shape,
    }


def _spread(bend):
    """Matrix (2, 2, n) that takes the unit circle to one standard deviation."""
    a, b, c = bend[0, 0], bend[0, 1], bend[1, 1]
    whole = a * c - b * b
    first = np.sqrt(c / whole)
    second = -b / whole / first
    return np.stack([np.stack([first, np.zeros_like(first)]), np.stack([second, np.sqrt(1 / c)])])


def _reach(height, at, best, drop, way, most):
    """How many `way`s (2, k, n) from the maximum the height has fallen by `drop`: (k, n), nan where it never does.

    The root of the fall is nearly a straight line: a secant that starts within NEAR_EDGE of the goal is the last.
    """
    goal, size = np.sqrt(drop), way.shape[1:]
    near, far, d = np.zeros(size), np.full(size, np.inf), np.full(size, goal * np.sqrt(2))
    root_near, done = np.zeros(size), np.zeros(size, bool)
    for _ in range(most):
        there = at + way * d
        fall = np.maximum(best - height(there), 1e-300)
        root = np.where(np.isfinite(fall), np.sqrt(fall), 1e6)
        to = near + (goal - root_near) * (d - near) / np.maximum(root - root_near, 1e-12)
        last = ~done & (np.abs(root - goal) < NEAR_EDGE * goal)
        d, done = np.where(last, to, d), done | last
        if done.all():
            break
        short = root < goal
        near, root_near, far = np.where(short, d, near), np.where(short, root, root_near), np.where(short, far, d)
        width = np.where(np.isinf(far), np.maximum(near, 0.1), np.where(np.isinf(far), 0.0, far) - near)
        to = np.clip(to, near + 0.02 * width, near + 0.98 * width)
        lost = (there[0] < LOWEST) | (there[0] > HIGHEST) | (d > 1e4)
        d = np.where(done | lost, d, to)
    return np.where(done, d, np.nan)


def _fourier(values, fine):
    """Values (k, n) at k equal angles, continued to the angles `fine` by their Fourier series."""
    terms = np.fft.rfft(values, axis=0) / values.shape[0]
    terms[1:-1] *= 2
    orders = np.arange(terms.shape[0])
    return np.real(np.exp(1j * np.outer(fine, orders)) @ terms)
