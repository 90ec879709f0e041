"""What is true of a Weibull life."""

import numpy as np
from scipy.special import gamma


def truths(shape, scale):
    """Shape, scale, mean life and the age by which a tenth has failed, arrays as given."""
    return {
        "shape": shape,
        "scale": scale,
        "mean": scale * gamma(1 + 1 / shape),
        "b10": scale * (-np.log(0.9)) ** (1 / shape),
    }
