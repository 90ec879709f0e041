"""How far one component type's fitted life is to be trusted: against the age of appliances, the calendar, no model."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from jobs import lives
from jobs.failures import EPOCH
from jobs.figures import kept
from jobs.models import Appliance
from jobs.reliability.alarms import recent_against_earlier
from jobs.reliability.constant_rate import mtbf_limits
from jobs.reliability.curves import RepairCurve, mean_repairs
from jobs.reliability.grouping import PERHAPS, group_spells
from jobs.reliability.history import Spells
from jobs.reliability.observed_fitted import at_the_start, expected_along, expected_of_unseen
from jobs.reliability.seasons import MonthFactors
from jobs.reliability.trend import trend
from jobs.reliability.unseen_ages import unseen_ages
from jobs.van_demand import component_months

YEAR, BAND, YEARS, MOST_SYSTEMS, FEW, SHOWN = 365.25, 2.0, 10, 20_000, 4, 0.05
HALF_PERIOD = {"year": timedelta(days=182), "month": timedelta(days=15)}


@dataclass(frozen=True)
class Drift:
    """Whether failures come faster or slower than age and season explain. p: Laplace's, mil_p: MIL-HDBK-189's, both
    two-sided, on a clock of expected failures; ratio with limits: the last year against the time before.
    """

    failures: int
    word: str
    p: float | None
    mil_p: float | None
    recent: int
    expected: float
    ratio: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Checks:
    """bands: (from, to, failed, expected, low, high) by age of the appliance, low and high of what chance leaves of the
    failures; unseen: failures of appliances of unknown age. repairs: mean number per piece by age of the appliance.
    """

    bands: list
    unseen: int
    repairs: RepairCurve | None
    drift: Drift | None


def checks(key, as_of, before_care=lives.BEFORE_CARE) -> Checks | None:
    """Kept until something is recorded; None where the firm has none of it in care."""
    return kept("component-checks", lambda: _checks(key, as_of, before_care), key, as_of, before_care, of_work=True)


def month_factors_of(as_of) -> tuple[dict, MonthFactors]:
    """({component: row}, month factors of all component types with limits)."""

    def reckon():
        spells = lives.firm_spells(as_of=as_of)
        names = np.asarray(spells.names.components, dtype=object)
        return {str(key): i for i, key in enumerate(names)}, component_months(spells)

    return kept("component-months", reckon, as_of, of_work=True)


def _checks(key, as_of, before_care):
    group = next((one for one in lives.report(as_of, before_care=before_care).groups if one.group == key), None)
    if group is None:
        return None
    spells = lives.firm_spells(as_of=as_of, components=[key])
    aged = Aged.of(spells, before_care)
    fit = (group.shape, group.scale) if group.status == "fitted" else None
    return Checks(
        bands=_bands(aged, fit),
        unseen=int((spells.failed & ~aged.told).sum()),
        repairs=_repairs(spells, aged),
        drift=_drift(aged, fit, as_of, key),
    )


@dataclass(frozen=True)
class Aged:
    """Spells of one component type on two axes. installed: day of each spell's appliance, nan where not known; told:
    its age is known; plain, unseen: spells of known age, and of positions that may have been renewed before care.
    """

    spells: Spells
    grouped: object
    installed: np.ndarray
    told: np.ndarray
    plain: np.ndarray
    unseen: np.ndarray

    @classmethod
    def of(cls, spells, before_care):
        grouped = group_spells(spells, "component", before_care=before_care)
        installed = _installed(spells)
        over = np.zeros(len(spells), bool) if grouped.unit is None else grouped.unit >= 0
        from_new = spells.clock == PERHAPS
        installed = np.where(from_new, spells.opened_day - spells.entry * YEAR, installed)
        return cls(spells, grouped, installed, np.isfinite(installed), grouped.aged, over)

    def expected(self, fit, edges, origin):
        """Failures that the fitted life expects between edges, in years from `origin` (a day per spell)."""
        shape, scale = fit
        spells, offset = self.spells, (self.spells.opened_day - origin) / YEAR - self.spells.entry
        chosen = self.plain & np.isfinite(offset)
        known = [values[chosen] for values in (spells.entry, spells.exit, spells.weight, offset)]
        total = expected_along(*known, edges, shape=shape, scale=scale)
        over = self.grouped.taken_over()
        if over.age.size:
            asked = {"lost_rate": self.grouped.lost_rate, "groups": 1}
            found = unseen_ages(at_the_start(over), np.array([shape]), np.array([scale]), **asked)
            total = total + expected_of_unseen(over, found, offset[self.unseen], edges, shape=shape, scale=scale)
        return total

    @property
    def counted(self):
        """Spells that the expected failures rest on."""
        return (self.plain | self.unseen) & self.told


def _installed(spells):
    """Day on which each spell's appliance was installed, the middle of an imprecise date, nan where not known."""
    rows = Appliance.objects.exclude(installed_on=None).values_list("number", "installed_on", "installed_precision")
    days = {number: (on + HALF_PERIOD.get(how, timedelta()) - EPOCH).days for number, on, how in rows}
    numbers = np.asarray(spells.names.appliances, dtype=object)
    of_each = np.array([days.get(str(number), np.nan) for number in numbers], float)
    return of_each[spells.appliance]


def _bands(aged, fit):
    if fit is None or not aged.counted.any():
        return []
    spells, counted = aged.spells, aged.counted
    age = (spells.closed_day - aged.installed) / YEAR
    edges = np.arange(0, max(float(age[counted].max()), BAND) + BAND, BAND)
    expected = aged.expected(fit, edges, aged.installed)
    failed = np.histogram(age[counted & spells.failed], edges)[0]
    limits = mtbf_limits(failed.astype(float), np.ones(failed.size))
    low, high = 1 / limits.high, 1 / limits.low
    rows = zip(edges[:-1], edges[1:], failed, expected, np.where(failed > 0, low, 0.0), high, strict=True)
    found = [tuple(float(value) for value in row) for row in rows]
    return [row for row in found if row[3] > 0.05 or row[2] > 0]


def _repairs(spells, aged):
    """Mean number of failures of one piece by the age of its appliance, None with few of them or too many pieces."""
    whole = aged.told & (spells.weight >= 1) & (spells.exit > spells.entry)
    key = spells.appliance.astype(np.int64) * 4096 + spells.position
    names, system = np.unique(key[whole], return_inverse=True)
    if not 0 < names.size <= MOST_SYSTEMS or (spells.failed & whole).sum() < FEW:
        return None
    begin, end = ((day - aged.installed)[whole] / YEAR for day in (spells.opened_day, spells.closed_day))
    start, last = np.full(names.size, np.inf), np.full(names.size, -np.inf)
    np.minimum.at(start, system, np.maximum(begin, 0.0))
    np.maximum.at(last, system, end)
    failed = spells.failed[whole] & (end > start[system])
    return mean_repairs(system[failed], end[failed], last, start)


def _drift(aged, fit, as_of, key):
    """On the clock of expected failures: quarters of the last ten years, each with its season."""
    if fit is None:
        return None
    spells, last = aged.spells, (as_of - EPOCH).days + 1
    edges = last - np.arange(4 * YEARS, -1, -1) * YEAR / 4
    place, factors = month_factors_of(as_of)
    months = (edges[:-1, None] + np.arange(0, 91, 30)).astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    season = factors.factor[place[key]][months].mean(axis=1)
    expected = aged.expected(fit, edges / YEAR, np.zeros(len(spells))) * season
    day = np.sort(spells.closed_day[(aged.plain | aged.unseen) & spells.failed & (spells.closed_day >= edges[0])])
    if day.size < FEW or not expected.sum() > 0:
        return Drift(int(day.size), "few", None, None, 0, 0.0, None, None, None)
    total = np.concatenate([[0.0], np.cumsum(expected)])
    times = np.clip(np.interp(day, edges, total), 1e-9, total[-1])
    found, recent = trend(times, total[-1]), int((day >= edges[-5]).sum())
    wanted = float(expected[-4:].sum())
    against = recent_against_earlier([recent], [wanted], [day.size - recent], [total[-1] - wanted]).comparison
    p, ratio = _told(found.laplace_p), [_told(values) for values in (against.ratio, against.low, against.high)]
    shown = p is not None and p < SHOWN
    word = ("rising" if found.laplace[0] > 0 else "falling") if shown else "steady"
    return Drift(int(day.size), word, p, _told(found.mil_p), recent, wanted, *ratio)


def _told(values):
    value = float(np.atleast_1d(values)[0])
    return value if np.isfinite(value) else None
