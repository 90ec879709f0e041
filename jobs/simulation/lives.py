"""Do the limits of fitted lives and of MTBF hold what they say, cell by cell of expected failures?"""

import numpy as np

from jobs.reliability.constant_rate import mtbf_limits
from jobs.reliability.life import fit_weibull
from jobs.reliability.taken_over import fit_taken_over
from jobs.simulation.firms import Law, Town, draw_book
from jobs.simulation.rows import Goal, covered
from jobs.simulation.truth import truths
from jobs.simulation.watched import watch

TABLE = "Limits at 90 % of fitted lives and MTBF"
SHAPES, SCALES = np.array([1.0, 1.6, 2.5, 3.5]), np.array([15.0, 14.0, 13.0, 11.0])
PLANNED, REPAIRED = 0.02, 0.1
PILOT = 4000  # appliances of each law, to learn how many make a cell's failures
AT_ONCE = 40_000  # appliances
QUANTITIES = ("shape", "scale", "mean", "b10")


def laws(groups) -> Law:
    """Laws of `groups` groups, the four kinds in turn."""
    kind = np.arange(groups) % SHAPES.size
    return Law(SHAPES[kind], SCALES[kind], np.full(groups, PLANNED), np.full(groups, REPAIRED))


def appliances_for(rng, town: Town, law: Law, expected):
    """How many appliances of each group to draw so that `expected` failures come, (groups,)."""
    book = draw_book(rng, town, law, np.repeat(np.arange(law.shape.size), PILOT))
    failures = watch(book, silence="window").totals(law.shape.size)[0]
    return np.maximum(np.round(expected * PILOT / failures), 2).astype(int)


def batch_size(size, groups):
    """Groups to draw at once, every law as often: memory stays bounded. size: appliances of each law's groups."""
    return max(min(int(AT_ONCE / size.mean()), groups) // SHAPES.size, 1) * SHAPES.size


def lost_rate(spells, groups):
    """Renewals without a failure per year, as the firm has seen them over all its groups."""
    _, exposure, planned = spells.totals(groups)
    return planned.sum() / exposure.sum()


def fit_perhaps(spells, groups, *, limits=True):
    """Lives of all groups where what came before care is not known."""
    known = spells.of(spells.known)
    return fit_taken_over(
        *known, spells.taken_over(), groups=groups, lost_rate=lost_rate(spells, groups), limits=limits
    )


def measure_lives(rng, expected, groups, *, past, serviced=0.5):
    """Rows of one cell. past: `known` (every last renewal is recorded, plain fit) or `perhaps`."""
    town = Town(serviced=serviced, remembered=1.0 if past == "known" else 0.0)
    four = laws(SHAPES.size)
    size = appliances_for(rng, town, four, expected)
    batch = batch_size(size, groups)
    found = {name: [] for name in ("failures", "exposure", "care", "kind", "status")}
    found |= {f"{name}_{end}": [] for name in QUANTITIES for end in ("low", "high")}
    while sum(map(len, found["failures"])) < groups:
        _one_batch(rng, town, laws(batch), np.tile(size, batch // SHAPES.size), past, found)
    table = {name: np.concatenate(column)[:groups] for name, column in found.items()}
    return _rows(f"{expected} expected", past, table)


def _one_batch(rng, town, law, size, past, found):
    groups = law.shape.size
    book = draw_book(rng, town, law, np.repeat(np.arange(groups), size))
    spells = watch(book)
    fits = fit_weibull(*spells.columns, groups=groups) if past == "known" else fit_perhaps(spells, groups)
    failures, exposure, _ = spells.totals(groups)
    found["failures"].append(failures)
    found["exposure"].append(exposure)
    found["care"].append(np.bincount(book.group, book.care, groups))
    found["kind"].append(np.arange(groups) % SHAPES.size)
    found["status"].append(fits.status)
    for name in found:
        if name.endswith(("_low", "_high")):
            found[name].append(getattr(fits, name))


def _rows(cell, past, found):
    kind, failures = found["kind"], found["failures"]
    enough, fitted = failures >= 2, found["status"] == "fitted"
    true = {name: values[kind] for name, values in truths(SHAPES, SCALES).items()}
    rows, expected = [], float(failures.mean())
    for name in QUANTITIES:
        low, high = found[f"{name}_low"], found[f"{name}_high"]
        given = enough & fitted & np.isfinite(high)
        inside = (np.nan_to_num(low, nan=0.0) <= true[name]) & (true[name] <= high)
        note = f"{1 - given.sum() / max(enough.sum(), 1):.1%} without limits"
        rows.append(covered(TABLE, cell, f"{name}, past {past}", inside[given], _goal(name, expected), note))
    if past == "perhaps":
        rate = np.bincount(kind, failures, SHAPES.size) / np.bincount(kind, found["care"], SHAPES.size)
        limits = mtbf_limits(failures, found["exposure"])
        inside = (limits.low <= 1 / rate[kind]) & (1 / rate[kind] <= limits.high)
        note = f"{expected:.1f} failures a group"
        rows.append(covered(TABLE, cell, "MTBF, chi-square", inside[enough], Goal(0.9, 1.0, "≥ 90 %"), note))
    return rows


def _goal(name, expected):
    if name not in ("shape", "scale") or expected < 3:
        return None
    return Goal(0.86, 1.0, "≥ 86 %") if expected < 9 else Goal(0.87, 0.92, "87 to 92 %")
