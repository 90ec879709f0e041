"""Imprecise dates: each becomes the day nearest to its middle that its own precision and its neighbours allow."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.records import DAY, MONTH, NO_DAY, UNKNOWN, YEAR

LAST_DAY = 10_000_000


@dataclass(frozen=True)
class PlacedDates:
    """Days, and which rows have none: `installed` per appliance, `renewed` per row of `earlier`."""

    installed: np.ndarray
    renewed: np.ndarray
    installed_impossible: np.ndarray
    renewed_impossible: np.ndarray


def place_dates(appliances, earlier):
    """Days for imprecise dates under installed ≤ renewed_on ≤ in_care_from.

    The more precise a date, the earlier it is placed; at equal precision the installation goes first. Each goes to
    the day nearest to its middle (the 15th; 1 July) within its own period, between the days of the neighbours placed
    already and the outer bounds of those that are not. An exact installation may lie after in_care_from (a
    new appliance). Where no day is left the row is marked impossible, and clipped so that the caller may go on.
    """
    care = appliances.in_care_from
    low, middle, high = _period(appliances.installed, appliances.precision)
    late = (appliances.precision > DAY) & (low > care)
    dated = earlier.precision > UNKNOWN
    owner = earlier.appliance
    from_, centre, to = _period(earlier.renewed, earlier.precision)
    floor, ceiling = np.maximum(from_, low[owner]), np.minimum(to, care[owner])
    impossible = dated & (floor > ceiling)

    installed, renewed = low.copy(), np.where(dated, ceiling, NO_DAY)
    for precision in (DAY, MONTH, YEAR):
        at_most = np.minimum(high, np.where(appliances.precision > DAY, care, LAST_DAY))
        np.minimum.at(at_most, owner[dated & ~impossible], renewed[dated & ~impossible])
        mine = appliances.precision == precision
        installed = np.where(mine, np.maximum(low, np.minimum(middle, at_most)), installed)
        theirs = earlier.precision == precision
        bottom = np.maximum(from_, installed[owner])
        renewed = np.where(theirs, np.minimum(np.maximum(centre, bottom), ceiling), renewed)
    return PlacedDates(np.where(appliances.precision > UNKNOWN, installed, NO_DAY), renewed, late, impossible)


def _period(day, precision):
    """First day, middle and last day of the period that a date of this precision means."""
    date = np.asarray(day, dtype=np.int64).astype("datetime64[D]")
    month, year = date.astype("datetime64[M]"), date.astype("datetime64[Y]")
    imprecise = [precision == MONTH, precision == YEAR, precision == UNKNOWN]
    first = np.select(imprecise, [_days(month), _days(year), NO_DAY], day)
    middle = np.select(imprecise, [_days(month) + 14, _days(year.astype("datetime64[M]") + 6), NO_DAY], day)
    last = np.select(imprecise, [_days(month + 1) - 1, _days(year + 1) - 1, LAST_DAY], day)
    return first, middle, last


def _days(date):
    return date.astype("datetime64[D]").astype(np.int64)
