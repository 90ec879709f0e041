"""From a firm's records to spells: the rules of contracts.md section 2, by array operations."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.dates import place_dates
from jobs.reliability.history.events import events
from jobs.reliability.history.naming import namings
from jobs.reliability.history.positions import Positions, State, at_start, lay_out
from jobs.reliability.history.records import NO_DAY, Records
from jobs.reliability.history.replay import Replay
from jobs.reliability.history.silent import cut_tails
from jobs.reliability.history.spells import DAYS_PER_YEAR, Spells
from jobs.reliability.history.watching import AS_OF, Watch, watch
from jobs.reliability.history.work import sift

LONGEST = 1 << 24  # days, more than any age


@dataclass(frozen=True)
class InCare:
    """Every component position that is watched on the day of analysis; arrays as in Spells.

    age: years on its clock on that day. weight: the chance that it is still in care.
    """

    component: np.ndarray
    appliance: np.ndarray
    position: np.ndarray
    model: np.ndarray
    post_area: np.ndarray
    supplier: np.ndarray
    clock: np.ndarray
    age: np.ndarray
    weight: np.ndarray


@dataclass(frozen=True)
class _Played:
    positions: Positions
    watch: Watch
    state: State
    closed: list


def build_spells(records: Records, *, as_of, care_window_months, silence="window", components=None) -> Spells:
    """All spells known on `as_of` (a day).

    silence: `window`, or `model`: what an appliance without a yearly service lasted after its last contact is
    weighed by the chance that it was still in care. components: indices to keep, None for all. Time and memory grow
    linearly with rows and positions, but for one sort; the loop runs over the k-th events of all positions, never
    over appliances or spells.
    """
    played = _play(records, as_of, care_window_months, silence, components)
    columns = [np.concatenate(column) for column in zip(*played.closed, strict=True)]
    position, opened, closed, origin, clock, opened_by, closed_by, failed, supplier, fitted = columns
    order = np.argsort(position * LONGEST + (opened - origin), kind="stable")
    order, opened, closed, weight, closed_by = _weighed(played, as_of, order, position, opened, closed, closed_by)
    position, origin = position[order], origin[order]
    appliance = played.positions.appliance[position]
    model = records.appliances.model[appliance]
    return Spells(
        names=records.names,
        component=played.positions.component[position],
        appliance=appliance,
        position=played.positions.number[position],
        model=model,
        maker=records.catalogue.maker[model],
        supplier=supplier[order],
        post_area=records.appliances.post_area[appliance],
        fitted_year=_year(fitted[order]),
        entry=(opened - origin) / DAYS_PER_YEAR,
        exit=(closed - origin) / DAYS_PER_YEAR,
        failed=failed[order],
        clock=clock[order],
        opened_by=opened_by[order],
        closed_by=closed_by,
        weight=weight,
        opened_day=opened,
        closed_day=closed,
        added=played.positions.added,
        silence=None if played.watch.quiet is None else played.watch.quiet.rates,
    )


def _weighed(played, as_of, order, position, opened, closed, closed_by):
    """Spells in their order with silent tails cut off: index of each, its days, weight and ending."""
    opened, closed, quiet = opened[order], closed[order], played.watch.quiet
    if quiet is None or not quiet.weighed.any():
        return order, opened, closed, np.ones(len(order)), closed_by[order]
    appliance = played.positions.appliance[position[order]]
    row, opened, closed, weight, ending = cut_tails(appliance, opened, closed, quiet, as_of=as_of)
    order = order[row]
    return order, opened, closed, weight, np.where(ending >= 0, ending, closed_by[order])


def positions_in_care(records: Records, *, as_of, care_window_months, silence="window", components=None) -> InCare:
    """The positions that are watched on `as_of`, with the age of each on that day."""
    played = _play(records, as_of, care_window_months, silence, components)
    positions, state, quiet = played.positions, played.state, played.watch.quiet
    here = np.flatnonzero((played.watch.ending == AS_OF)[positions.appliance])
    appliance = positions.appliance[here]
    return InCare(
        component=positions.component[here],
        appliance=appliance,
        position=positions.number[here],
        model=records.appliances.model[appliance],
        post_area=records.appliances.post_area[appliance],
        supplier=state.supplier[here],
        clock=state.clock[here],
        age=(as_of - state.origin[here]) / DAYS_PER_YEAR,
        weight=np.ones(here.size) if quiet is None else quiet.chance(as_of)[appliance],
    )


def _play(records, as_of, care_window_months, silence, components):
    placed = place_dates(records.appliances, records.earlier)
    watching = watch(records, placed.installed, as_of=as_of, care_window_months=care_window_months, silence=silence)
    watched = watching.start <= watching.end
    wanted = np.full(len(records.names.components), components is None)
    wanted[[] if components is None else components] = True
    work = sift(records, watching, as_of=as_of, watched=watched, wanted=wanted)
    positions = lay_out(records, watched, wanted, _named(records, work, watched, wanted))
    state = at_start(records, positions, watching, placed.renewed)
    named = namings(records, positions, work)
    replay = Replay(records, positions, watching, work, named, state)
    replay.play(events(records, positions, watching, work, named))
    replay.finish(watching.ending[positions.appliance])
    return _Played(positions, watching, state, replay.closed)


def _named(records, work, watched, wanted):
    """Every (appliance, component, position) that the records name."""
    earlier = records.earlier
    kept = watched[earlier.appliance] & wanted[earlier.component]
    before = (earlier.appliance[kept], earlier.component[kept], earlier.position[kept])
    during = [(rows.appliance, rows.component, rows.position) for rows in (work.found, work.fitted)]
    return tuple(np.concatenate(column) for column in zip(before, *during, strict=True))


def _year(day):
    year = day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970
    return np.where(day == NO_DAY, 0, year).astype(np.int16)
