"""One result for the page, the API and the command `life`: every group with its figures, limits and warnings."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.best_estimates import BestEstimates, FamilyPrior, best_estimates
from jobs.reliability.constant_rate import mtbf_limits
from jobs.reliability.curves import Curve, survival_curve
from jobs.reliability.grouping import GroupedSpells
from jobs.reliability.life import WeibullFits
from jobs.reliability.remarks import group_warnings
from jobs.reliability.silence import Silence
from jobs.reliability.taken_over import fit_taken_over

RATE = "MTBF = exposure / failures in the window, exact chi-square limits, time-terminated"
BEST = "best estimate = 1 / posterior mean rate, gamma priors of the family averaged over a grid"
FIT = "Weibull by maximum likelihood with late entries and censored exits, profile-likelihood limits"
OVER = (
    "positions taken over in mid-life by one joint likelihood, averaged over the ages that they may have had, "
    "renewals for other causes at the rate seen in care; limits of groups with such positions allow for few failures: "
    "their likelihood may fall as far as Student's t does for the mean of so many normal ages"
)
CURVE = "Kaplan-Meier with log-log limits"
ATTRIBUTES_ONLY = ("taken_over", "lost_rate")


@dataclass(frozen=True)
class CurvePoint:
    """Share still working just after an age at which something failed; limits None where it is 0 or 1.

    hazard: failures added up to that age (Nelson-Aalen); it and its limits stand on the page and in lives/curves/.
    """

    age: float
    at_risk: float
    events: float
    survival: float
    survival_low: float | None
    survival_high: float | None
    hazard: float = 0.0
    hazard_low: float = 0.0
    hazard_high: float = 0.0

    def to_dict(self) -> dict:
        """As the command `life` gives it."""
        return {name: value for name, value in vars(self).items() if not name.startswith("hazard")}


@dataclass(frozen=True)
class GroupLife:
    """All that is known of one group; None is what cannot be known, and status and warnings say why.

    taken_over: positions whose earlier renewals nobody saw; lost_rate: renewals for other causes per component-year
    that are taken to have happened before care too, None where no position was taken over.
    """

    group: str
    status: str
    failures: float
    exposure: float
    mtbf: float | None
    mtbf_low: float | None
    mtbf_high: float | None
    shrunk: float | None
    shrunk_low: float | None
    shrunk_high: float | None
    shape: float | None
    shape_low: float | None
    shape_high: float | None
    scale: float | None
    scale_low: float | None
    scale_high: float | None
    mean: float | None
    mean_low: float | None
    mean_high: float | None
    b10: float | None
    b10_low: float | None
    b10_high: float | None
    lr_p: float | None
    warnings: tuple[str, ...]
    curve: tuple[CurvePoint, ...] | None
    taken_over: int = 0
    lost_rate: float | None = None


@dataclass(frozen=True)
class LifeReport:
    """Groups in the order given, with what they rest on. silence: the rates by which silent tails were weighed."""

    groups: tuple[GroupLife, ...]
    level: float
    as_of: str | None
    before_care: str | None
    priors: tuple[FamilyPrior, ...]
    method: str
    silence: Silence | None = None

    def to_dict(self) -> dict:
        """Plain dicts and lists, for JSON: no number in it is nan or infinite."""
        groups = [
            {
                **{name: value for name, value in vars(group).items() if name not in ATTRIBUTES_ONLY},
                "warnings": list(group.warnings),
                "curve": None if group.curve is None else [point.to_dict() for point in group.curve],
            }
            for group in self.groups
        ]
        whole = {name: getattr(self, name) for name in ("level", "as_of", "before_care")}
        priors = [dict(vars(prior)) for prior in self.priors]
        return {"groups": groups, **whole, "priors": priors, "method": self.method}


def life_report(
    spells: GroupedSpells,
    *,
    level=0.90,
    as_of=None,
    before_care=None,
    silence=None,
    curve=False,
    least_at_risk=0,
    lost_factor=1.0,
) -> LifeReport:
    """Constant rate, best estimate, Weibull life and, if asked for, survival curve of every group.

    Rates count all spells, lives and curves those of known age (spells.aged); lives count positions taken over too
    (spells.unit). as_of, before_care, silence: as they are to be told, None for a file of ages. least_at_risk:
    curves start at the first age with so many at risk. lost_factor: times spells.lost_rate is the rate of unseen
    renewals for other causes.
    """
    groups = len(spells.names)
    failures = np.bincount(spells.group, np.where(spells.failed, spells.weight, 0.0), groups)
    exposure = np.bincount(spells.group, spells.weight * (spells.exit - spells.entry), groups)
    aged = spells.of_known_age()
    over, bearing = spells.taken_over(), spells.with_an_age()
    lost_rate = np.zeros(groups) if spells.lost_rate is None else lost_factor * spells.lost_rate
    fits = fit_taken_over(
        *(aged.entry, aged.exit, aged.failed, aged.weight, aged.group),
        over,
        groups=groups,
        lost_rate=lost_rate,
        level=level,
    )
    status = _status(fits.status, failures, bearing, groups)
    best = best_estimates(failures, exposure, spells.family, spells.families, spells.assumed, level)
    curves = (
        survival_curve(
            aged.entry,
            aged.exit,
            aged.failed,
            aged.weight,
            aged.group,
            groups=groups,
            level=level,
            least_at_risk=least_at_risk,
        )
        if curve
        else None
    )
    warnings = group_warnings(spells, bearing, status, failures, exposure, best, fits, curves)
    unseen = np.bincount(over.group, minlength=groups), lost_rate
    return LifeReport(
        groups=_groups(spells.names, status, failures, exposure, level, best, fits, warnings, curves, unseen),
        level=level,
        as_of=as_of,
        before_care=before_care,
        priors=best.priors,
        method=_method(over.age.size, silence, curve) + f"; limits at {level:.12g}.",
        silence=silence,
    )


def _method(taken_over, silence: Silence | None, curve):
    parts = [RATE, BEST, FIT, *([OVER] if taken_over else []), *([CURVE] if curve else [])]
    if silence is not None and np.isnan(silence.contact):
        parts.append("no customer without a yearly service made contact: care ends with the care window")
    elif silence is not None:
        parts.append(
            f"silent customers weighed by the chance that they are still in care ({silence.contact:.3g} contacts and "
            f"{silence.leaving:.3g} leavings a year, from {silence.appliances} appliances without a yearly service)"
        )
    return "; ".join(parts)


def _status(fitted, failures, aged: GroupedSpells, groups):
    """The status of each group over all its spells, those of unknown age too."""
    known = np.bincount(aged.group, aged.failed & (aged.weight > 0), groups)
    new = np.bincount(aged.group, aged.failed & (aged.weight > 0) & (aged.exit <= 0), groups)
    status = np.where(known > 0, fitted, "no-known-ages")
    status = np.where((new > 0) & np.isin(fitted, ("one-failure", "all-ages-equal")), "shape-at-edge", status)
    status = np.where((new > 0) & (new == known), "all-ages-equal", status)
    status = np.where((failures <= 1) & (status != "fitted"), "one-failure", status)
    return np.where(failures <= 0, "no-failures", status)


def _groups(names, status, failures, exposure, level, best: BestEstimates, fits: WeibullFits, warnings, curves, unseen):
    rate = mtbf_limits(failures, exposure, level)
    columns = {
        "mtbf": rate.mtbf,
        "mtbf_low": rate.low,
        "mtbf_high": rate.high,
        "shrunk": best.mtbf,
        "shrunk_low": best.low,
        "shrunk_high": best.high,
    }
    columns |= {name: _sizes(values) for name, values in vars(fits).items() if name not in ("status", "lr_p")}
    columns["lr_p"] = fits.lr_p
    known = {name: [_number(value) for value in values] for name, values in columns.items()}
    points = [None] * len(names) if curves is None else _points(curves, len(names))
    return tuple(
        GroupLife(
            group=name,
            status=str(status[i]),
            failures=float(failures[i]),
            exposure=float(exposure[i]),
            warnings=warnings[i],
            curve=points[i],
            taken_over=int(unseen[0][i]),
            lost_rate=float(unseen[1][i]) if unseen[0][i] else None,
            **{column: known[column][i] for column in known},
        )
        for i, name in enumerate(names)
    )


def _sizes(values):
    """Sizes that are above 0; what is too small for a float cannot be told."""
    return np.where(values > 0, values, np.nan)


def _number(value):
    """A float that can be told, else None."""
    return float(value) if np.isfinite(value) else None


def _points(curve: Curve, groups):
    bounds = np.searchsorted(curve.group, np.arange(groups + 1))
    plain = curve.age, curve.at_risk, curve.events, curve.survival
    hazard = curve.cumulative_hazard, curve.hazard_low, curve.hazard_high
    columns = (column.tolist() for column in (*plain, curve.low, curve.high, *hazard))
    rows = [CurvePoint(*row[:4], *map(_number, row[4:6]), *row[6:]) for row in zip(*columns, strict=True)]
    return [tuple(rows[a:b]) for a, b in zip(bounds[:-1], bounds[1:], strict=True)]
