"""Maximum and profile limits of any likelihood in (log shape, log scale), many groups at once."""

import numpy as np
from scipy.special import chdtri, gammaln, stdtrit

Array = np.ndarray
STEP = 1e-3
LONGEST, NOISE = 0.7, 3e-6  # step; of a height with numbers of 24 bits
LOWEST, HIGHEST = np.log(1e-3), np.log(1e3)  # of the shape
DIRECTIONS, FINELY, POINTS, LOOKS, FEW_LOOKS, NEAR_EDGE = 16, 64, 360, 40, 8, 0.01


def climb(slopes, start, most_steps, close, bend=None, left=0):
    """Where each group's log likelihood is highest, climbed from `start` by Newton, short-stepped where it fails.

    slopes: function of points (2, groups) that gives heights and slopes, (3, groups), -inf and anything where there are
    none. start: (2, groups), finite. The second derivatives are `bend` or differences of the slopes at the start,
    corrected by how the slopes change (symmetric, rank one). Returns the points, the heights there, minus the second
    derivatives (2, 2, groups), and which groups settled within `most_steps`: a step shorter than `close` is the last.
    It ends early when no more than `left` groups have not settled.
    """
    at, reach = np.array(start, float), np.full(start.shape[1], LONGEST)
    best, *slope = slopes(at)
    slope = np.stack(slope)
    bend = bend_at(slopes, at, slope) if bend is None else np.array(bend)
    done = np.zeros(at.shape[1], bool)
    for _ in range(most_steps):
        step = np.where(done, 0.0, _step(slope, bend, reach))
        length = np.hypot(*step)
        last = ~done & (length < close) & (length < 0.99 * reach)
        at, best = np.where(last, at + step, at), best + np.where(last, np.sum(slope * step, axis=0) / 2, 0.0)
        done |= last
        if done.sum() >= done.size - left:
            break
        to = at + np.where(done, 0.0, step)
        to[0] = np.clip(to[0], LOWEST, HIGHEST)
        new, *new_slope = slopes(to)
        new_slope = np.stack(new_slope)
        known = ~done & np.isfinite(new) & np.isfinite(new_slope).all(axis=0)
        bend = np.where(known, _corrected(bend, to - at, np.where(known, slope - new_slope, 0.0)), bend)
        better = new >= best - NOISE * (1 + np.abs(best))
        take = better & known
        at, best, slope = np.where(take, to, at), np.where(take, new, best), np.where(take, new_slope, slope)
        reach = np.where(better, np.clip(2 * length, reach, LONGEST), length / 4)
    inside = (at[0] > LOWEST + 0.01) & (at[0] < HIGHEST - 0.01)
    return at, best, bend, done & inside & peaked(bend)


def peaked(bend):
    """Which of some matrices (2, 2, n) are those of a peak."""
    return (bend[0, 0] > 0) & (bend[0, 0] * bend[1, 1] > bend[0, 1] ** 2)


def bend_at(slopes, at, slope, short=STEP):
    """Minus the second derivatives (2, 2, groups) by differences of the slopes, which are `slope` at the point."""
    right, up = (slopes(at + short * way[:, None])[1:] - slope for way in np.eye(2))
    with np.errstate(invalid="ignore"):
        across = (right[1] + up[0]) / 2
        bend = -np.stack([np.stack([right[0], across]), np.stack([across, up[1]])]) / short
    return np.where(np.isfinite(bend).all(axis=(0, 1)), bend, 0.0)


def settle(slopes, at, bend, most_steps, sure):
    """The maximum to the last digits from a point (2, n) close by: Newton's steps with `bend` and exact slopes.

    slopes: function of points (2, n) and of the groups wanted (k,) that gives heights and slopes (3, k). The second
    derivatives are corrected by how the slopes change (symmetric, rank one). Returns the points, the heights, minus the
    second derivatives, and which groups settled within `most_steps`: a step shorter than `sure` leaves a tenth of its
    length at most.
    """
    at, best, settled = np.array(at), np.full(at.shape[1], -np.inf), np.zeros(at.shape[1], bool)
    open_, bend = np.arange(at.shape[1]), np.array(bend)
    step = slope = np.zeros_like(at)
    for turn in range(most_steps):
        height, *now = slopes(at[:, open_], open_)
        now = np.stack(now)
        if turn:
            bend[:, :, open_] = _corrected(bend[:, :, open_], step, slope - now)
        step, slope = _step(now, bend[:, :, open_], 2 * LONGEST), now
        length = np.hypot(*step)
        near = np.isfinite(height) & np.isfinite(length) & (length < LONGEST)
        moved = open_[near]
        at[:, moved] += step[:, near]
        best[moved] = height[near] + np.sum(slope * step, axis=0)[near] / 2
        settled[open_[near & (length < sure)]] = True
        on = near & (length >= sure)
        if not on.any():
            break
        open_, step, slope = open_[on], step[:, on], slope[:, on]
    return at, best, bend, settled


def _corrected(bend, step, change):
    """Minus the second derivatives, made to say that a step changes the slopes by minus `change`."""
    lacking = change - (bend[:, 0] * step[0] + bend[:, 1] * step[1])
    along = lacking[0] * step[0] + lacking[1] * step[1]
    telling = np.abs(along) > 1e-8 * np.hypot(*lacking) * np.hypot(*step)
    with np.errstate(over="ignore", invalid="ignore"):
        found = bend + lacking * lacking[:, None] * np.where(telling, 1 / np.where(telling, along, 1.0), 0.0)
    return np.where(np.isfinite(found).all(axis=(0, 1)), found, bend)


def _step(slope, bend, reach):
    """Newton's step with the second derivatives made positive, no longer than `reach`."""
    size = np.abs(bend[0, 0]) + np.abs(bend[1, 1]) + 1e-12
    middle, half = (bend[0, 0] + bend[1, 1]) / 2, np.hypot((bend[0, 0] - bend[1, 1]) / 2, bend[0, 1])
    lift = np.maximum(0.0, 1e-3 * size - (middle - half))
    a, b, c = bend[0, 0] + lift, bend[0, 1], bend[1, 1] + lift
    step = np.stack([c * slope[0] - b * slope[1], a * slope[1] - b * slope[0]]) / (a * c - b * b)
    return step * np.minimum(1.0, reach / np.maximum(np.hypot(*step), 1e-300))


def region_limits(height, at, best, bend, level, failures=None, looks=LOOKS, finely=False):
    """Profile limits of shape, scale, mean and b10: the extremes of each on the edge of the likelihood region.

    height: function of points (2, k, groups) that gives (k, groups), -inf where it cannot be had; at, best, bend: as
    `climb` gives them; failures: as region_drop; looks: at the edge, at most. Returns logarithms
    {name_low, name_high: (groups,)}, nan for all where the region has no end that was found.
    """
    edge, ended = region_edge(height, at, best, bend, level, failures, looks, finely)
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


def region_edge(height, at, best, bend, level, failures=None, looks=LOOKS, finely=False):
    """The edge of each group's likelihood region as points (2, 360, groups), and which were found within `looks`.

    The edge is followed in 16 directions, or finely in 64, and between them by its Fourier series: directions in log
    shape and in shape x (log scale - middle), the hazard up to a middling age, with the middle for which the two do not
    hang together. There a region is round that is a long crescent in log shape and log scale.
    """
    drop, place = region_drop(level, failures), _place(at, bend)
    reach = _reach(height, place, best, drop, _ways(DIRECTIONS), looks)
    if finely:
        between = np.arange(FINELY) / (FINELY // DIRECTIONS)
        before, share = between.astype(int), (between % 1)[:, None]
        reach = np.where(np.isfinite(reach).all(axis=0), reach, np.nan)
        start = reach[before] ** (1 - share) * reach[(before + 1) % DIRECTIONS] ** share
        reach = _reach(height, place, best, drop, _ways(FINELY), FEW_LOOKS, start)
        reach = np.where(np.isnan(reach), start, reach)
    radius = _fourier(np.where(np.isfinite(reach), reach, 1.0), 2 * np.pi * np.arange(POINTS) / POINTS)
    return place(_ways(POINTS) * radius), np.isfinite(reach).all(axis=0)


def _ways(directions):
    """Ways (2, directions, 1) of length one, evenly around."""
    turn = 2 * np.pi * np.arange(directions) / directions
    return np.stack([np.cos(turn), np.sin(turn)])[:, :, None]


def _place(at, bend):
    """Function of standard deviations (2, k, n) in log shape and shape x (log scale - middle) that gives the points."""
    shape = np.exp(at[0])
    off = bend[0, 1] / bend[1, 1]
    wide = 1 / np.sqrt(bend[0, 0] - bend[0, 1] * off), shape / np.sqrt(bend[1, 1])

    def place(away):
        log_shape = at[0] + wide[0] * away[0]
        with np.errstate(over="ignore", invalid="ignore"):
            return np.stack([log_shape, at[1] - off + (shape * off + wide[1] * away[1]) * np.exp(-log_shape)])

    return place


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


def _reach(height, place, best, drop, way, most, start=None):
    """How many `way`s (2, k, 1) from the maximum the height has fallen by `drop`: (k, n), nan where it never does.

    start: how many to try first, nan: none. The root of the fall is nearly a straight line: a secant that starts
    within NEAR_EDGE of the goal is the last.
    """
    goal, size = np.sqrt(drop), (way.shape[1], best.size)
    near, far, d = np.zeros(size), np.full(size, np.inf), np.full(size, goal * np.sqrt(2)) if start is None else start
    root_near, done, lost = np.zeros(size), np.zeros(size, bool), np.isnan(d)
    for _ in range(most):
        there = place(way * d)
        fall = np.maximum(best - height(there), 1e-300)
        root = np.where(np.isfinite(fall), np.sqrt(fall), 1e6)
        to = near + (goal - root_near) * (d - near) / np.maximum(root - root_near, 1e-12)
        last = ~done & (np.abs(root - goal) < NEAR_EDGE * goal)
        d, done = np.where(last, to, d), done | last
        if (done | lost).all():
            break
        short = root < goal
        near, root_near, far = np.where(short, d, near), np.where(short, root, root_near), np.where(short, far, d)
        width = np.where(np.isinf(far), np.maximum(near, 0.1), np.where(np.isinf(far), 0.0, far) - near)
        to = np.clip(to, near + 0.02 * width, near + 0.98 * width)
        lost |= (there[0] < LOWEST) | (there[0] > HIGHEST) | (d > 1e4)
        d = np.where(done | lost, d, to)
    return np.where(done, d, np.nan)


def _fourier(values, fine):
    """Values (k, n) at k equal angles, continued to the angles `fine` by their Fourier series."""
    terms = np.fft.rfft(values, axis=0) / values.shape[0]
    terms[1:-1] *= 2
    orders = np.arange(terms.shape[0])
    return np.real(np.einsum("fo,on->fn", np.exp(1j * np.outer(fine, orders)), terms))
