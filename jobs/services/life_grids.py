"""What is known of every life, ready for forecasts: grids of shapes, and how old what is in care today may be."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import Q

from inventory.models import ComponentType, Place
from jobs import history, lives
from jobs.figures import kept
from jobs.reliability.forecast import Before, ShapeGrid
from jobs.reliability.grouping import PERHAPS, GroupedSpells, group_spells
from jobs.reliability.history import Spells
from jobs.reliability.history.ragged import look_up
from jobs.reliability.unseen_ages import UnseenAges, spread_spells, unseen_ages
from jobs.reliability.unseen_grid import unseen_shape_grid
from jobs.van_demand import component_seasons, van_shares

TYPICAL_AGE, SPREAD_OVER = 10.0, 10
POSITIONS = 1 << 16


@dataclass(frozen=True)
class InCareToday:
    """One row per position in care and age that it may have; all arrays (m,).

    component, model, appliance: indices into LifeGrids.components, .models, .appliances. whole: chance of this age,
    averaged over the shapes of its life, likely: times that of still being in care; counts: the same given each shape,
    (m, shapes). seen: False where the age is not known.
    """

    component: np.ndarray
    model: np.ndarray
    appliance: np.ndarray
    position: np.ndarray
    age: np.ndarray
    likely: np.ndarray
    seen: np.ndarray
    whole: np.ndarray
    counts: np.ndarray


@dataclass(frozen=True)
class LifeGrids:
    """grid, season: of each component type in `components` (keys), season (components, 12). vans: keys, van: shares of
    the vans in each appliance, (appliances, vans + 1), the last column for none.
    """

    components: tuple[str, ...]
    models: tuple[str, ...]
    appliances: tuple[str, ...]
    grid: ShapeGrid
    season: np.ndarray
    today: InCareToday
    vans: tuple[str, ...]
    van: np.ndarray

    def rows_of(self, columns):
        """(row of `today`, index into `columns`, share) of every row in the area of each van; columns: of `van`."""
        columns, here = np.asarray(columns, int), self.today.appliance
        rows = [np.flatnonzero((self.van[:, column] > 0)[here]) for column in columns]
        row = np.concatenate(rows) if rows else np.zeros(0, int)
        which = np.repeat(np.arange(columns.size), [own.size for own in rows])
        return row, which, self.van[here[row], columns[which]]


def life_grids(as_of: date, before_care=lives.BEFORE_CARE, care_window=None) -> LifeGrids:
    """Kept until something is recorded. care_window: months, None for the firm's own."""
    asked = as_of, before_care, care_window
    return kept("life-grids", lambda: _life_grids(*asked), *asked, of_work=True, large=True)


@dataclass(frozen=True)
class AgedSpells:
    """Spells by component type under the usual assumptions, those of unseen age at each age that they may have.

    shape, scale: life of each type (groups,). found: the ages of positions taken over. rows: (entry, exit, failed,
    weight, group) of all; of: the spell behind each row.
    """

    spells: Spells
    grouped: GroupedSpells
    shape: np.ndarray
    scale: np.ndarray
    found: UnseenAges
    rows: list[np.ndarray]
    of: np.ndarray


def aged_spells(as_of: date, records) -> AgedSpells:
    """Read with `records`, never kept: large."""
    spells = lives.firm_spells(as_of=as_of, records=records)
    grouped = group_spells(spells, "component", before_care=lives.BEFORE_CARE)
    over, aged, groups = grouped.taken_over(), grouped.of_known_age(), len(grouped.names)
    shape, scale = _lives(as_of, grouped.names)
    found = unseen_ages(over, shape, scale, lost_rate=grouped.lost_rate, groups=groups)
    known = aged.entry, aged.exit, aged.failed, aged.weight, aged.group
    rows = [np.concatenate(pair) for pair in zip(known, spread_spells(over, found), strict=True)]
    unseen = np.zeros(0, int) if grouped.unit is None else np.flatnonzero(grouped.unit >= 0)
    of = np.r_[np.flatnonzero(grouped.aged), np.repeat(unseen, found.likely.shape[1])]
    return AgedSpells(spells, grouped, shape, scale, found, rows, of)


def _life_grids(as_of, before_care, care_window):
    records = history.read_records()
    watched = {"care_window_months": care_window, "silence": lives.SILENCE, "records": records}
    spells = lives.firm_spells(as_of=as_of, **watched)
    grouped = group_spells(spells, "component", before_care=before_care)
    here = history.in_care(as_of, **watched)
    aged, (shape, scale) = grouped.of_known_age(), _lives(as_of, grouped.names, before_care, care_window)
    known = aged.entry, aged.exit, aged.failed, aged.weight, aged.group
    grid, found = unseen_shape_grid(
        known, grouped.taken_over(), shape, scale, grouped.lost_rate, _beforehand(grouped.names)
    )
    group_of = {key: i for i, key in enumerate(grouped.names)}
    numbers = np.array([group_of.get(str(key), -1) for key in here.names.components], int)
    vans = list(Place.objects.vans().filter(Q(retired_on=None) | Q(retired_on__gt=as_of)).order_by("key"))
    shares, _ = van_shares(here, vans)
    homes, first = np.unique(here.appliance, return_index=True)
    return LifeGrids(
        components=grouped.names,
        models=tuple(map(str, here.names.models)),
        appliances=tuple(str(here.names.appliances[home]) for home in homes),
        grid=grid,
        season=component_seasons(spells)[[_index(spells, key) for key in grouped.names]],
        today=_today(here, numbers, homes, _age_of_each(spells, here, found, before_care), grid),
        vans=tuple(van.key for van in vans),
        van=np.concatenate([shares, 1 - shares.sum(axis=1, keepdims=True)], axis=1)[first],
    )


def _index(spells, key):
    return int(np.flatnonzero(np.asarray(spells.names.components, dtype=object) == key)[0])


def _lives(as_of, names, before_care=None, care_window=None):
    """Shape and scale of each group: as fitted, else the best estimate of a constant rate."""
    found = lives.report(as_of, before_care=before_care, care_window_months=care_window)
    groups = {group.group: group for group in found.groups}
    fitted = [(groups[name].shape, groups[name].scale or groups[name].shrunk or 1e3) for name in names]
    return np.array([[shape or 1.0, scale] for shape, scale in fitted]).reshape(-1, 2).T


def _beforehand(names):
    """What the trade table says of each component: rate a year, typical age, manner of wear."""
    types = {one.key: one for one in ComponentType.objects.filter(key__in=names)}
    typical = [float(types[name].assumed_life_years or TYPICAL_AGE) for name in names]
    given = [types[name].prior_failures_per_100_years for name in names]
    rate = [float(one) / 100 if one else 0.5 / life for one, life in zip(given, typical, strict=True)]
    wears = [types[name].wears for name in names]
    return Before(len(names), np.array(rate), np.array(typical), wears)


def _keys(rows, appliances):
    return (rows.component.astype(np.int64) * appliances + rows.appliance) * POSITIONS + rows.position


def _age_of_each(spells, here, found: UnseenAges, before_care):
    """(row of `here`, age, likely given each shape, seen): one entry per age that a position may have."""
    appliances = max(len(here.names.appliances), 1)
    clock_seen = here.clock <= (PERHAPS if before_care == "first" else PERHAPS - 1)
    over = (spells.clock == PERHAPS) & (spells.exit > 0)
    keys = _keys(spells, appliances)[over]
    first = np.flatnonzero(np.diff(keys, prepend=-1))
    at = np.full(here.age.size, -1)
    if before_care == "perhaps":
        unseen = here.clock == PERHAPS
        at[unseen] = look_up(keys[first], _keys(here, appliances)[unseen])
    taken, plain = np.flatnonzero(at >= 0), np.flatnonzero(clock_seen)
    many, shapes = found.likely.shape[1:]
    ages = np.maximum(here.age[taken][:, None] - found.younger[at[taken]], 0.0).ravel()
    row = np.r_[plain, np.repeat(taken, many)]
    age = np.r_[here.age[plain], ages]
    likely = np.concatenate([np.ones((plain.size, shapes)), found.likely[at[taken]].reshape(-1, shapes)])
    blind = np.setdiff1d(np.arange(here.age.size), np.r_[plain, taken])
    more = _like_the_others(here.component, row, age, blind)
    seen = np.r_[np.ones(plain.size, bool), np.zeros(taken.size * many + more[0].size, bool)]
    likely = np.concatenate([likely, np.repeat(more[2][:, None], shapes, axis=1)])
    return np.r_[row, more[0]], np.r_[age, more[1]], likely, seen


def _like_the_others(component, row, age, blind):
    """Ages at the deciles of the others of their kind, for positions of which nothing is known."""
    middles = (np.arange(SPREAD_OVER) + 0.5) / SPREAD_OVER
    kinds, of = np.unique(component[blind], return_inverse=True)
    spread = np.empty((kinds.size, SPREAD_OVER))
    for i, kind in enumerate(kinds):
        others = age[component[row] == kind]
        spread[i] = np.quantile(others, middles) if others.size else TYPICAL_AGE * 2 * middles
    return np.repeat(blind, SPREAD_OVER), spread[of].ravel(), np.full(blind.size * SPREAD_OVER, 1 / SPREAD_OVER)


def _today(here, numbers, homes, each, grid):
    row, age, likely, seen = each
    component = numbers[here.component[row]]
    there = component >= 0
    row, age, likely, seen, component = row[there], age[there], likely[there], seen[there], component[there]
    whole = np.sum(likely * grid.weight[component], axis=1)
    return InCareToday(
        component=component,
        model=here.model[row],
        appliance=np.searchsorted(homes, here.appliance[row]),
        position=here.position[row],
        age=age,
        likely=whole * here.weight[row],
        seen=seen,
        whole=whole,
        counts=likely * here.weight[row][:, None],
    )
