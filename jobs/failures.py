"""What the pages on failures show: reckoned at once for all component types and kept until something is recorded."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from scipy.stats import chi2

from inventory.models import ApplianceModel
from jobs import lives
from jobs.reliability.band import life_band, taken_over_band
from jobs.reliability.curves import hazard_bands
from jobs.reliability.grouping import KNOWN, PERHAPS, group_spells
from jobs.reliability.joint_likelihood import JointLikelihood
from jobs.reliability.report import GroupLife, LifeReport
from jobs.reliability.shrinkage import NOT_TOLD_APART
from jobs.stamp import kept

EPOCH = date(1970, 1, 1)
MONTHS, BAND_YEARS, MOST_AGE, STEP, LEAST_EXPOSURE = 36, 2.0, 40.0, 0.5, 0.05


@dataclass(frozen=True)
class Fleet:
    """All component types: the report, failures by month, and by type those of the last year."""

    report: LifeReport
    months: list
    recent: dict
    warnings: list


@dataclass(frozen=True)
class ComponentLife:
    """One component type. models: by appliance model; curve: (age, share, low, high) and hazard: (age, rate a
    year) of the fitted life, empty without one; bands: (from, to, rate, low, high, failures, exposure); misfit:
    the band that the fitted life describes worst, where it describes them badly.
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


def fleet(as_of, before_care=lives.BEFORE_CARE) -> Fleet:
    return kept("failures", lambda: _fleet(as_of, before_care), as_of, before_care)


def component_life(key, as_of, before_care=lives.BEFORE_CARE) -> ComponentLife | None:
    """The life of one component type, None where the firm has none of it in care."""
    return kept("component-life", lambda: _component(key, as_of, before_care), as_of, before_care, key)


def _fleet(as_of, before_care):
    spells = lives.firm_spells(as_of=as_of)
    report = lives.report_of(spells, as_of=as_of, before_care=before_care)
    year = spells.failed & (spells.closed_day > (as_of - EPOCH).days - 365)
    recent = np.bincount(spells.component[year], minlength=len(spells.names.components)).tolist()
    return Fleet(
        report=report,
        months=_months(spells.closed_day[spells.failed], as_of),
        recent=dict(zip([str(key) for key in spells.names.components], recent, strict=True)),
        warnings=[warning for warning in [lives.stale_warning(as_of)] if warning],
    )


def _component(key, as_of, before_care):
    spells = lives.firm_spells(as_of=as_of, components=[key])
    if not len(spells):
        return None
    report = lives.report_of(spells, as_of=as_of, before_care=before_care, curve=True)
    group = report.groups[0]
    group = replace(group, **_best_of_all(key, as_of, group.warnings))
    by_model = lives.report_of(spells, by="component,model", as_of=as_of, before_care=before_care)
    ages = Ages.of(spells, before_care)
    curve, hazard = _fitted(group, ages, _joint(spells, before_care), by_model.level)
    bands = _bands(ages, by_model.level)
    return ComponentLife(
        group=group,
        report=replace(report, groups=()),
        models=[(one.group.partition(" / ")[2], one) for one in by_model.groups],
        curve=curve,
        hazard=hazard,
        bands=bands,
        misfit=_misfit(group, ages, bands),
        months=_months(spells.closed_day[spells.failed], as_of),
        spells=_columns(spells),
        pieces=np.unique(spells.appliance.astype(np.int64) * 64 + spells.position).size,
        oldest=ages.oldest,
    )


def _best_of_all(key, as_of, warnings):
    """The best estimate as the list of all component types gives it: one family, one number on both pages.

    It rests on counts and years, which no assumption on the time before care changes.
    """
    group = next(group for group in fleet(as_of).report.groups if group.group == key)
    own = [told for told in warnings if NOT_TOLD_APART not in told.lower()]
    return {name: getattr(group, name) for name in ("shrunk", "shrunk_low", "shrunk_high")} | {"warnings": tuple(own)}


def _joint(spells, before_care):
    """The likelihood of positions that may have been renewed before care, None where none is taken so."""
    grouped = group_spells(spells, "component", before_care=before_care)
    over = grouped.taken_over()
    if not over.age.size:
        return None
    known = grouped.of_known_age()
    aged = ~(known.failed & (known.exit <= 0))
    columns = (known.entry, known.exit, known.failed, known.weight, known.group)
    return JointLikelihood(tuple(column[aged] for column in columns), over, 1, grouped.lost_rate)


@dataclass(frozen=True)
class Ages:
    """The spells whose age is known, as the fitted life takes them."""

    entry: np.ndarray
    exit: np.ndarray
    failed: np.ndarray
    weight: np.ndarray

    oldest: float

    @classmethod
    def of(cls, spells, before_care):
        aged = spells.clock <= (PERHAPS if before_care == "first" else KNOWN)
        perhaps = spells.clock <= (KNOWN if before_care == "unknown" else PERHAPS)
        columns = (column[aged] for column in (spells.entry, spells.exit, spells.failed, spells.weight))
        return cls(*columns, float(spells.exit[perhaps].max(initial=0)))

    @property
    def columns(self):
        return self.entry, self.exit, self.failed, self.weight

    def expected(self, edges, shape, scale):
        """Failures that the fitted life expects in each band of age."""
        inside = [np.clip(age[:, None], edges[:-1], edges[1:]) for age in (self.entry, self.exit)]
        return (self.weight[:, None] * ((inside[1] / scale) ** shape - (inside[0] / scale) ** shape)).sum(axis=0)


def _fitted(group, ages, joint, level):
    """Curve with its limits, and hazard, of the fitted life at every half year."""
    if group.status != "fitted" or not group.shape or not group.scale:
        return [], []
    last = min(MOST_AGE, max(np.ceil(ages.oldest), np.ceil((group.b10 or 0) * 1.2), 5))
    at = np.arange(0, last + STEP / 2, STEP)
    fit = {"shape": group.shape, "scale": group.scale, "level": level}
    band = taken_over_band(at, joint, **fit) if joint else life_band(at, *ages.columns, **fit)
    rate = group.shape / group.scale * (at[1:] / group.scale) ** (group.shape - 1)
    curve = zip(at.tolist(), band.share.tolist(), band.low.tolist(), band.high.tolist(), strict=True)
    return list(curve), list(zip(at[1:].tolist(), rate.tolist(), strict=True))


def _edges(ages):
    return np.arange(0, max(ages.oldest, BAND_YEARS) + BAND_YEARS, BAND_YEARS)


def _bands(ages, level):
    edges = _edges(ages)
    bands = hazard_bands(ages.entry, ages.exit, ages.failed, edges, ages.weight, level=level)
    columns = (bands.rate[0], bands.low[0], bands.high[0], bands.failures[0], bands.exposure[0])
    rows = zip(edges[:-1].tolist(), edges[1:].tolist(), *(column.tolist() for column in columns), strict=True)
    return [row for row in rows if row[6] > LEAST_EXPOSURE]


def _misfit(group, ages, bands):
    """The band of age that departs most from the fitted life, where chance does not explain the departures.

    (from, to, failed, expected), or None. Pearson's chi-square over bands in which two or more are expected,
    less one degree for each of the two fitted numbers; told below one in a hundred.
    """
    if group.status != "fitted":
        return None
    edges = _edges(ages)
    expected = dict(zip(edges[:-1].tolist(), ages.expected(edges, group.shape, group.scale).tolist(), strict=True))
    seen = [(start, end, failed, expected[start]) for start, end, _, _, _, failed, _ in bands if expected[start] >= 2]
    parts = [(failed - wanted) ** 2 / wanted for _, _, failed, wanted in seen]
    if len(seen) < 4 or chi2.sf(sum(parts), len(seen) - 2) >= 0.01:
        return None
    return seen[int(np.argmax(parts))]


def _months(closed_day, as_of):
    """(first day of month, failures) of the last three years, months without any included."""
    days = Counter((EPOCH + timedelta(days=int(day))).replace(day=1) for day in closed_day)
    month, found = as_of.replace(day=1), []
    for _ in range(MONTHS):
        found.append((month, days.get(month, 0)))
        month = (month - timedelta(days=1)).replace(day=1)
    return found[::-1]


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
