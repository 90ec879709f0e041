"""Lives from the firm's own records: one report for the page, the API and the command `life`."""

from datetime import date, timedelta

import numpy as np

from inventory.models import ComponentType
from jobs import history
from jobs.reliability.grouping import group_spells
from jobs.reliability.report import LifeReport, life_report

LEAST_AT_RISK = 5
STALE = timedelta(days=31)


def firm_spells(*, as_of: date, care_window_months=None, before_care="first", silence="window", components=None):
    """Spells of the firm's records known on `as_of`; the care window is the firm's setting unless given."""
    return history.spells(
        as_of=as_of,
        care_window_months=care_window_months,
        before_care=before_care,
        silence=silence,
        components=components,
    )


def report_of(spells, *, by="component", level=0.90, as_of: date, before_care="first", curve=False) -> LifeReport:
    """The report on spells of the firm's records, grouped by one of grouping.BY."""
    grouped = group_spells(spells, by, before_care=before_care, assumed=assumed_rates(spells.names.components))
    return life_report(
        grouped, level=level, as_of=as_of.isoformat(), before_care=before_care, curve=curve, least_at_risk=LEAST_AT_RISK
    )


def assumed_rates(components):
    """Assumed failures per 100 years of each component key, nan where the table has none."""
    rates = dict(ComponentType.objects.values_list("key", "prior_failures_per_100_years"))
    return np.array([float(rates.get(key) or np.nan) for key in components])


def stale_warning(as_of: date) -> str:
    """A sentence when nothing was recorded in the 31 days before `as_of`, else ""."""
    newest = history.newest_record(as_of)
    if newest is None:
        return f"Nothing is recorded up to {as_of}."
    if as_of - newest <= STALE:
        return ""
    return (
        f"The newest record is of {newest}, {(as_of - newest).days} days before {as_of}: "
        "give --as-of if the records end there."
    )
