"""What the pages on failures show: reckoned at once for all component types and kept until something is recorded."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from inventory.models import ApplianceModel
from jobs import lives
from jobs.figures import kept
from jobs.life_pictures import Ages, failure_bands, fitted_life, joint_likelihood, worst_band
from jobs.reliability.report import GroupLife, LifeReport

EPOCH = date(1970, 1, 1)
MONTHS = 36
COUNTED = "unknown"  # plain counts and best estimates are the same under every assumption on the time before care


@dataclass(frozen=True)
class Fleet:
    """All component types: the report, failures by month, and by type those of the last year."""

    report: LifeReport
    months: list
    recent: dict


@dataclass(frozen=True)
class ComponentLife:
    """One component type. models: by appliance model; curve: (age, share, low, high) and hazard: (age, rate a
    year) of the fitted life, empty without one; bands: (from, to, rate, low, high, failures, exposure); misfit:
    the band that the fitted life describes worst, where it describes them badly; oldest: the highest age watched,
    watched_to: the highest known one that enough others reached.
    """

    group: GroupLife
    report: LifeReport
    models: list
    curve: list
    hazard: list
    bands: list
    misfit: tuple | None
    months: list
    spells: dict
    pieces: int
    oldest: float
    watched_to: float


def fleet(as_of, before_care=lives.BEFORE_CARE, care_window=None) -> Fleet:
    """The report is the one that the API and the command give. care_window: months, None for the firm's own."""
    months, recent = _kept_counts(as_of, care_window)
    return Fleet(
        report=lives.report(as_of, before_care=before_care, care_window_months=care_window),
        months=months_of(months, as_of),
        recent=recent,
    )


def failures_by_month(as_of, care_window=None):
    """{(first day of month, component, maker): failures reported} of the last three years."""
    return _kept_counts(as_of, care_window)[0]


def _kept_counts(as_of, care_window):
    return kept("failures", lambda: _counts(as_of, care_window), as_of, care_window, of_work=True)


def component_life(key, as_of, before_care=lives.BEFORE_CARE, care_window=None) -> ComponentLife | None:
    """The life of one component type, None where the firm has none of it in care."""
    asked = as_of, before_care, care_window
    return kept("component-life", lambda: _component(key, *asked), *asked, key, of_work=True)


def grouped_counts(as_of, by, care_window=None) -> LifeReport:
    """Plain counts and best estimates by one of grouping.BY, without a fit of positions taken over in mid-life."""
    return lives.report(as_of, by=by, before_care=COUNTED, care_window_months=care_window)


def _counts(as_of, care_window):
    """Failures by (month, component, maker), and of the last year by component."""
    spells = lives.firm_spells(as_of=as_of, care_window_months=care_window)
    words = [np.asarray(getattr(spells.names, name), dtype=object) for name in ("components", "makers")]
    failed = np.flatnonzero(spells.failed)
    months = spells.closed_day[failed].astype("datetime64[D]").astype("datetime64[M]")
    recent = months > np.datetime64(as_of, "M") - MONTHS
    columns = (
        months[recent].tolist(),
        spells.component[failed][recent].tolist(),
        spells.maker[failed][recent].tolist(),
    )
    found = Counter(
        (month, str(words[0][component]), str(words[1][maker]) if maker >= 0 else "")
        for month, component, maker in zip(*columns, strict=True)
    )
    year = failed[spells.closed_day[failed] > (as_of - EPOCH).days - 365]
    of_type = np.bincount(spells.component[year], minlength=len(words[0])).tolist()
    return dict(found), dict(zip([str(key) for key in words[0]], of_type, strict=True))


def months_of(counts, as_of):
    """(first day of month, failures) of the last three years, months without any included."""
    total = Counter()
    for (month, *_), failures in counts.items():
        total[month] += failures
    return [(month, total[month]) for month in last_months(as_of)]


def last_months(as_of):
    """First days of the last three years' months."""
    month, found = as_of.replace(day=1), []
    for _ in range(MONTHS):
        found.append(month)
        month = (month - timedelta(days=1)).replace(day=1)
    return found[::-1]


def _component(key, as_of, before_care, care_window):
    whole = lives.report(as_of, before_care=before_care, care_window_months=care_window)
    group = next((group for group in whole.groups if group.group == key), None)
    if group is None:
        return None
    spells = lives.firm_spells(as_of=as_of, components=[key], care_window_months=care_window)
    ages = Ages.of(spells, before_care)
    curve, hazard = fitted_life(group, ages, joint_likelihood(spells, before_care), whole.level)
    bands = failure_bands(ages, whole.level)
    by_model = lives.report_of(spells, by="component,model", as_of=as_of, before_care=COUNTED)
    days = Counter((EPOCH + timedelta(days=int(day))).replace(day=1) for day in spells.closed_day[spells.failed])
    return ComponentLife(
        group=_with_curve(group, spells, as_of, before_care),
        report=replace(whole, groups=()),
        models=[(one.group.partition(" / ")[2], one) for one in by_model.groups],
        curve=curve,
        hazard=hazard,
        bands=bands,
        misfit=worst_band(group, ages, bands),
        months=[(month, days.get(month, 0)) for month in last_months(as_of)],
        spells=_columns(spells),
        pieces=np.unique(spells.appliance.astype(np.int64) * 64 + spells.position).size,
        oldest=ages.oldest,
        watched_to=ages.watched_to(lives.LEAST_AT_RISK),
    )


def _with_curve(group, spells, as_of, before_care):
    """The group of the whole report with its plain curve, which counts known ages only, and what is told of it."""
    aged = "first" if before_care == "first" else COUNTED
    drawn = lives.report_of(spells, as_of=as_of, before_care=aged, curve=True).groups[0]
    told = [warning for warning in drawn.warnings if warning.startswith("The curve")]
    return replace(group, curve=drawn.curve, warnings=(*group.warnings, *told))


def _columns(spells):
    """What the table of spells shows, column by column."""
    names = {model.key: f"{model.name}, {model.maker}".strip(", ") for model in ApplianceModel.objects.all()}
    words = {
        name: np.asarray(spells.words(name)).tolist()
        for name in ("appliance", "model", "clock", "opened_by", "closed_by")
    }
    words["model"] = [names.get(key, key) for key in words["model"]]
    numbers = {
        name: getattr(spells, name).tolist() for name in ("position", "entry", "exit", "failed", "weight", "closed_day")
    }
    return words | numbers
