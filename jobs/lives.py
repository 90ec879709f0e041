"""Lives from the firm's own records: one report for the page, the API and the command `life`."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from firm.models import Setting
from inventory.models import ComponentType
from jobs import history
from jobs.figures import kept
from jobs.reliability.grouping import group_spells
from jobs.reliability.report import GroupLife, LifeReport, life_report

BEFORE_CARE, SILENCE = history.BEFORE_CARE[0], history.SILENCE[0]  # what is usual
LEAST_AT_RISK = 5
STALE = timedelta(days=31)


def firm_spells(*, as_of: date, care_window_months=None, silence=None, components=None, records=None):
    """Spells of the firm's records known on `as_of`; the care window is the firm's setting unless given."""
    return history.spells(
        as_of=as_of,
        care_window_months=care_window_months,
        silence=silence or SILENCE,
        components=components,
        records=records,
    )


def report_of(
    spells, *, by="component", level=0.90, as_of: date, before_care=None, curve=False, lost_factor=1.0
) -> LifeReport:
    """The report on spells of the firm's records, grouped by one of grouping.BY.

    lost_factor: times the rate seen in care, how often positions were renewed before care without having failed.
    """
    before_care = before_care or BEFORE_CARE
    if before_care not in history.BEFORE_CARE:
        raise ValueError(f"before_care {before_care}: not to be had; ask for {' or '.join(history.BEFORE_CARE)}")
    grouped = group_spells(spells, by, before_care=before_care, assumed=assumed_rates(spells.names.components))
    return life_report(
        grouped,
        level=level,
        as_of=as_of.isoformat(),
        before_care=before_care,
        silence=spells.silence,
        curve=curve,
        least_at_risk=LEAST_AT_RISK,
        lost_factor=lost_factor,
    )


def report(
    as_of: date,
    *,
    by="component",
    level=0.90,
    before_care=None,
    silence=None,
    care_window_months=None,
    components=None,
    curve=False,
    lost_factor=1.0,
) -> LifeReport:
    """The report on the firm's records, kept until something is recorded."""
    before_care, silence = before_care or BEFORE_CARE, silence or SILENCE
    components = None if components is None else tuple(components)

    def reckon():
        spells = firm_spells(as_of=as_of, care_window_months=care_window_months, silence=silence, components=components)
        return report_of(
            spells, by=by, level=level, as_of=as_of, before_care=before_care, curve=curve, lost_factor=lost_factor
        )

    asked = (as_of, by, level, before_care, silence, care_window_months, components, curve, lost_factor)
    return kept("life-report", reckon, *asked, of_work=True)


@dataclass(frozen=True)
class Answer:
    """What one set of assumptions gives. key: a word for links; words: for reading; groups: by name."""

    key: str
    words: str
    before_care: str
    silence: str
    care_window_months: float
    lost_factor: float
    groups: dict[str, GroupLife]


def sensitivity(as_of: date, *, by="component", level=0.90, component=None) -> tuple[Answer, ...]:
    """The answers under the other assumptions beside the usual one, which stands first: each that of `report`.

    component: the key of one component type, all whose answers are to the last digit those among all.
    """
    months = float(Setting.current().care_window_months)
    usual = {"before_care": BEFORE_CARE, "silence": SILENCE, "care_window_months": months, "lost_factor": 1.0}
    found = []
    for key, words, other in _assumptions(months):
        asked = usual | other
        if not other or asked != usual:
            told = report(as_of, by=by, level=level, **(other and asked)).groups
            groups = {one.group: one for one in told if component in (None, one.group)}
            found.append(Answer(key, words, **asked, groups=groups))
    return tuple(found)


def _assumptions(months):
    perhaps = {"before_care": "perhaps"}
    return (
        ("usual", "As we reckon", {}),
        ("perhaps", "Parts may have been changed before care", perhaps),
        ("first", "Parts met in an appliance are those that it was installed with", {"before_care": "first"}),
        ("unknown", "Ages from before care are left out", {"before_care": "unknown"}),
        ("lost-none", "Before care, parts were changed only when they failed", perhaps | {"lost_factor": 0.0}),
        ("lost-double", "Before care, twice as many were changed without failing", perhaps | {"lost_factor": 2.0}),
        ("silence-model", "Who falls silent is weighed", {"silence": "model"}),
        ("silence-window", "Who falls silent for the care window has left", {"silence": "window"}),
        ("window-half", f"Care window of {months / 2:g} months", {"care_window_months": months / 2}),
        ("window-double", f"Care window of {months * 2:g} months", {"care_window_months": months * 2}),
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
