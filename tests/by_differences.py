"""The maximum of a likelihood of two parameters by differences of its heights: slow, and knows nothing of slopes."""

import numpy as np

from jobs.reliability.two_parameters import HIGHEST, LONGEST, LOWEST, _step, peaked

STEP, MOST_STEPS, CLOSE = 1e-3, 60, 1e-4  # a step so short leaves an error of its square
AROUND = np.array([[0, 1, -1, 0, 0, 1], [0, 0, 0, 1, -1, 1]])


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
    return at, best, bend, done & inside & peaked(bend)


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
