"""The pictures of one component type's page."""

from calendar import month_name

from firm import charts
from firm.words import known, number
from jobs import failure_words
from jobs.checks import month_factors_of


def life_charts(component, life):
    """Still working, failures added up and failures at each age; what there is nothing of is left out."""
    one, level = failure_words.noun(component), life.report.level
    steps = life.group.curve or ()
    drawn = []
    if life.curve or steps:
        shares = [(p.age, p.survival, p.survival_low, p.survival_high) for p in steps]
        drawn.append(charts.still_working("life", one, life.curve, shares, _marks(life), life.watched_to, level=level))
    if steps:
        sums = [(p.age, p.at_risk, p.hazard, p.hazard_low, p.hazard_high) for p in steps]
        drawn.append(charts.added_up("added", one, sums, _fitted_sums(life), life.watched_to, level=level))
    if life.bands:
        drawn.append(charts.failures_by_age("hazard", one, life.bands, life.hazard, level=level))
    return drawn


def _marks(life):
    """(age, share, words) of what the life curve is asked for most, where the curve reaches it."""
    group, shares, marks = life.group, life.curve, []
    last = shares[-1][0] if shares else 0
    if known(group.b10) and group.b10 <= last:
        marks.append((group.b10, 0.9, f"one in ten gone by {number(group.b10)}"))
    if known(group.mean) and group.mean <= last:
        share = min(shares, key=lambda point: abs(point[0] - group.mean))[1]
        marks.append((group.mean, share, f"mean life {number(group.mean)}"))
    return marks


def _fitted_sums(life):
    """(age, failures a place by then) of the fitted life, as far as anything was counted."""
    last = max(life.watched_to, life.group.curve[-1].age)
    ages = [age for age, *_ in life.curve if age <= last] + ([last] if life.curve else [])
    return [(age, (age / life.group.scale) ** life.group.shape) for age in ages]


def seasons_chart(component, as_of, level):
    """The twelve months against the mean month."""
    place, found = month_factors_of(as_of)
    i = place[component.key]
    rows = zip(month_name[1:], found.factor[i].tolist(), found.low[i].tolist(), found.high[i].tolist(), strict=True)
    return charts.month_factors("seasons", failure_words.noun(component), list(rows), level=level)
