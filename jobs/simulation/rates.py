"""Do the best estimates' limits hold? Families of groups whose true rates are drawn, watched for a while."""

import numpy as np

from jobs.reliability.best_estimates import best_estimates
from jobs.simulation.rows import Goal, covered

TABLE = "Limits at 90 % of best estimates (families averaged over their prior)"
EACH, POOLED = Goal(0.85, 0.96, "85 to 96 %"), Goal(0.88, 0.92, "88 to 92 %")
SIZES = (4, 10, 30)  # groups of a family
SPREADS = (0.2, 0.5, 0.9)  # coefficient of variation of their rates
EXPECTED = (2, 4, 10, 30, 100)


def measure_rates(rng, expected, groups):
    """Inside or not of one cell, with what it needs to be told apart: (cell, size, spread, family, inside)."""
    found = []
    for size in SIZES:
        for spread in SPREADS:
            families = max(groups // size // (len(SIZES) * len(SPREADS)), 2)
            found.append(_inside(rng, expected, size, spread, families))
    return [np.concatenate(column) for column in zip(*found, strict=True)]


def _inside(rng, expected, size, spread, families):
    """Half the families have gamma rates, half lognormal ones; exposures differ threefold."""
    gamma = rng.gamma(spread**-2, spread**2, (families, size))
    log_spread = np.sqrt(np.log1p(spread**2))
    lognormal = np.exp(rng.normal(-(log_spread**2) / 2, log_spread, (families, size)))
    rate = 0.02 * np.where(np.arange(families)[:, None] % 2, gamma, lognormal)
    exposure = expected / 0.02 * rng.uniform(0.5, 1.5, (families, size))
    failures, family = rng.poisson(rate * exposure), np.repeat(np.arange(families), size)
    names = tuple(str(number) for number in range(families))
    best = best_estimates(failures.ravel(), exposure.ravel(), family, names)
    true = 1 / rate.ravel()
    kept = failures.ravel() >= 2
    columns = (np.full(true.size, size), np.full(true.size, spread), family + 1_000_000 * size + int(1e7 * spread))
    return *(column[kept] for column in columns), ((best.low <= true) & (true <= best.high))[kept]


def rate_rows(cells):
    """Rows of all cells, {expected: what measure_rates gave}, and of all of them together."""
    rows = []
    for expected, (size, spread, family, inside) in cells.items():
        rows.append(covered(TABLE, f"{expected} expected", "rate, all families", inside, EACH, family=family))
        for one in SIZES:
            own = size == one
            what = f"rate, families of {one}"
            rows.append(covered(TABLE, f"{expected} expected", what, inside[own], EACH, family=family[own]))
        for one in SPREADS:
            own = spread == one
            what = f"rate, true spread {one:g}"
            rows.append(covered(TABLE, f"{expected} expected", what, inside[own], EACH, family=family[own]))
    if len(cells) > 1:
        inside, family = np.concatenate([cell[3] for cell in cells.values()]), []
        for number, cell in enumerate(cells.values()):
            family.append(cell[2] + number * 10**9)
        rows.append(covered(TABLE, "pooled", "rate", inside, POOLED, family=np.concatenate(family)))
    return rows
