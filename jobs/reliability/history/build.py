"""From a firm's records to spells: the rules of contracts.md section 2, by array operations."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.dates import place_dates
from jobs.reliability.history.events import events
from jobs.reliability.history.naming import namings
from jobs.reliability.history.positions import Positions, State, at_start, lay_out
from jobs.reliability.history.records import NO_DAY, Records
from jobs.reliability.history.replay import Replay
from jobs.reliability.history.spells import DAYS_PER_YEAR, Spells
from jobs.reliability.history.watching import AS_OF, Watch, watch
from jobs.reliability.history.work import sift

LONGEST = 1 << 24  # days, more than any age


@dataclass(frozen=True)
class InCare:
    """Every component position that is watched on the day of analysis; arrays as in Spells.

    age: years on its clock on that day.
    """

    component: np.ndarray
    appliance: np.ndarray
    position: np.ndarray
    model: np.ndarray
    post_area: np.ndarray
    supplier: np.ndarray
    clock: np.ndarray
    age: np.ndarray


@dataclass(frozen=True)
class _Played:
    positions: Positions
    watch: Watch
    state: State
    closed: list


def build_spells(records: Records, *, as_of, care_window_months, components=None) -> Spells:
    """All spells known on `as_of` (a day), silence treated by the window.

    components: indices to keep, None for all. Time and memory grow linearly with rows and positions, but for one
    sort; the loop runs over the k-th events of all positions, never over appliances or spells.
    """
    played = _play(records, as_of, care_window_months, components)
    columns = [np.concatenate(column) for column in zip(*played.closed, strict=True)]
    position, opened, closed, origin, clock, opened_by, closed_by, failed, supplier, fitted = columns
    order = np.argsort(position * LONGEST + (opened - origin), kind="stable")
    position, opened, closed, origin = position[order], opened[order], closed[order], origin[order]
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
        closed_by=closed_by[order],
        weight=np.ones(len(order)),
        opened_day=opened,
        closed_day=closed,
        added=played.positions.added,
    )


def positions_in_care(records: Records, *, as_of, care_window_months, components=None) -> InCare:
    """The positions that are watched on `as_of`, with the age of each on that day."""
    played = _play(records, as_of, care_window_months, components)
    positions, state = played.positions, played.state
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
    )


def _play(records, as_of, care_window_months, components):
    placed = place_dates(records.appliances, records.earlier)
    watching = watch(records, placed.installed, as_of=as_of, care_window_months=care_window_months)
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
