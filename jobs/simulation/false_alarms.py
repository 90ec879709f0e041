"""How often do alarms cry wolf over firms where nothing is wrong, and what does a bad batch need to be found?

Everything goes the way of the pages: `standing.find_alarms` on what the firm knows on a day, its lives and seasons
fitted to the same records.
"""

import numpy as np

from jobs.reliability.standing import find_alarms
from jobs.simulation.fleets import AS_OF, FLEETS, SUPPLIERS, TYPES, Fleet, draw_fleet, seen_on, with_batches
from jobs.simulation.rows import Goal, Row, averaged

FALSE = "False alarms over 30 component types and 10 suppliers"
POWER = "What a batch at five times its rate needs to be found"
YEAR, LOOKS = 365, 5  # the page is looked at on the first day of a year and after each quarter
TIMES, SIZES, AT_ONCE = 5.0, (20, 60, 200), 10
ENOUGH = 9  # failures from which on a batch should be found
AGO, QUARTER = 1278, 91  # days: when its fitting began, and how long it lasted


def measure_alarms(rng, firms, fleet: Fleet):
    """Rows of one fleet: alarms new to the page in a year, and those that stand on a day."""
    new, standing, failures = [], [], []
    for _ in range(firms):
        drawn = draw_fleet(rng, fleet)
        found, shown = _a_year(drawn)
        new.append(found)
        standing.append(shown)
        failures.append(drawn.pieces.failed.sum() / fleet.town.years)
    mean = averaged(FALSE, fleet.name, "new alarms on the page in a year", new, _below(), percent=False)
    note = f"{TYPES * fleet.parts} positions, {np.mean(failures):.0f} failures a year"
    high = mean.value + 1.645 * max(mean.error, 1 / firms)
    return [
        Row(FALSE, fleet.name, mean.what, mean.value, mean.error, firms, mean.goal, note, False),
        Row(FALSE, fleet.name, "the same, upper 95 % limit", high, np.nan, firms, _below(), "", False),
        averaged(FALSE, fleet.name, "alarms that stand on a day", standing, None, percent=False),
    ]


def _below():
    return Goal(0.0, 1.0, "< 1")


def _a_year(drawn):
    """Alarms that come to the page in the last year, each subject once, and how many stand on average."""
    ever, new, standing = None, 0, []
    for day in np.linspace(AS_OF - YEAR, AS_OF, LOOKS).astype(int):
        shown = find_alarms(*seen_on(drawn, day), day).shown
        subjects = set(
            zip(*(getattr(shown, name).tolist() for name in ("sort", "kind", "supplier", "model")), strict=True)
        )
        new += 0 if ever is None else len(subjects - ever)
        ever = subjects | (ever or set())
        standing.append(len(subjects))
    return new, float(np.mean(standing))


def measure_batches(rng, firms, fleet: Fleet, size):
    """Rows of batches of `size` parts fitted within a quarter, three and a half years ago, ten in each firm."""
    needed, days, failed = [], [], []
    for number in range(firms):
        kinds = (number * AT_ONCE + np.arange(AT_ONCE)) % TYPES
        suppliers = rng.integers(0, SUPPLIERS, AT_ONCE)
        begin = AS_OF - AGO
        drawn = with_batches(rng, draw_fleet(rng, fleet), kinds, suppliers, size, TIMES, begin, begin + QUARTER)
        batch = np.arange(drawn.pieces.kind.size) >= drawn.pieces.kind.size - AT_ONCE * size
        raised = find_alarms(*seen_on(drawn, AS_OF), AS_OF).raised
        for kind, supplier in zip(kinds, suppliers, strict=True):
            own = drawn.pieces.closed[batch & (drawn.pieces.kind == kind) & drawn.pieces.failed]
            about = (raised.sort == 0) & (raised.kind == kind) & (raised.supplier == supplier) & (raised.raised > begin)
            when = raised.raised[about].min(initial=AS_OF + 1)
            failed.append(own.size)
            needed.append(np.count_nonzero(own <= when) if when <= AS_OF else np.inf)
            days.append(when - begin if when <= AS_OF else np.inf)
    return _batch_rows(f"{fleet.name}, {size} parts", *(np.array(column, float) for column in (needed, days, failed)))


def _batch_rows(cell, needed, days, failed):
    enough = failed >= ENOUGH
    sample = int(enough.sum())
    rows = [
        averaged(POWER, cell, f"found, of those with {ENOUGH} failures and more", np.isfinite(needed[enough])),
        averaged(POWER, cell, "found, of those with fewer", np.isfinite(needed[~enough])),
    ]
    for name, p in (("median", 0.5), ("nine in ten", 0.9)):
        for what, values in (("failures until found", needed), ("days until found", days)):
            value = float(np.quantile(values[enough], p, method="higher")) if sample else np.nan
            note = "days from its first fitting" if values is days else ""
            goal = Goal(0, 9.5, "about 9") if (name, values is needed) == ("median", True) else None
            rows.append(Row(POWER, cell, f"{what}, {name}", value, np.nan, sample, goal, note, False))
    return rows


POWER_FLEETS = (FLEETS[2], FLEETS[5])
