"""The component positions of all appliances, and what is known of each from before care."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import distinct, look_up, runs, runs_of_equal, within_runs
from jobs.reliability.history.records import NO_DAY, UNKNOWN
from jobs.reliability.history.spells import CLOCKS, OPENED_BY

NUMBERS = 1 << 16
KNOWN, PERHAPS, NO_AGE = (CLOCKS.index(word) for word in ("known", "perhaps", "unknown"))
CARE, INSTALLED = (OPENED_BY.index(word) for word in ("care", "installed"))


@dataclass(frozen=True)
class Positions:
    """Positions sorted by component, appliance, number; those of one component of one appliance form a unit.

    unit, number, appliance, component: per position. first, count: per unit, its run of positions.
    added: pairs (appliance, component) whose model lacks the component.
    """

    unit: np.ndarray
    number: np.ndarray
    appliance: np.ndarray
    component: np.ndarray
    first: np.ndarray
    count: np.ndarray
    added: np.ndarray
    _unit_keys: np.ndarray
    _keys: np.ndarray
    _appliances: int

    def find_unit(self, appliance, component):
        """Unit of each pair, −1 where the appliance lacks the component."""
        return look_up(self._unit_keys, component * self._appliances + appliance)

    def find(self, appliance, component, number):
        """Position of each triple, −1 where there is none."""
        return look_up(self._keys, (component * self._appliances + appliance) * NUMBERS + number)


def lay_out(records, watched, wanted, named):
    """All positions of the appliances `watched` and the components `wanted` (both bool arrays).

    named: (appliance, component, number or 0) arrays of what the records name; a component or a position that the
    model lacks is added.
    """
    many = len(watched)
    appliance, component, number = _of_models(records, watched, wanted)
    base = component * many + appliance
    named_appliance, named_component, named_number = named
    named_key = named_component * many + named_appliance
    lacking = ~np.isin(named_key, base)
    extra = lacking | (named_number > 0)
    key = np.r_[base * NUMBERS + number, named_key[extra] * NUMBERS + np.maximum(named_number[extra], 1)]
    keys = distinct(key)
    pair = keys // NUMBERS
    first, count, unit = runs_of_equal(pair)
    added = distinct(named_key[lacking])
    pairs = np.stack([added % many, added // many], axis=1) if many else np.zeros((0, 2), dtype=np.int64)
    return Positions(
        unit=unit,
        number=keys - pair * NUMBERS,
        appliance=pair % max(many, 1),
        component=pair // max(many, 1),
        first=first,
        count=count,
        added=pairs,
        _unit_keys=pair[first],
        _keys=keys,
        _appliances=many,
    )


def _of_models(records, watched, wanted):
    catalogue = records.catalogue
    chosen = np.flatnonzero(wanted[catalogue.held_component])
    chosen = chosen[np.argsort(catalogue.held_model[chosen], kind="stable")]
    held = np.bincount(catalogue.held_model[chosen], minlength=len(catalogue.maker))
    model = np.where(watched, records.appliances.model, 0)
    length = np.where(watched, held[model], 0)
    appliance, at = runs((np.cumsum(held) - held)[model], length)
    line, _ = runs(at, catalogue.held_count[chosen[at]])
    appliance, component = appliance[line], catalogue.held_component[chosen[at[line]]]
    return appliance, component, within_runs(line) + 1


@dataclass
class State:
    """What is true of every position at one moment of the replay; changed in place, round by round.

    opened: day on which the running spell opened. origin: day on which its clock started. renewed: last renewal.
    broken: failed and not yet renewed or repaired. broken_by: the naming that says so. fitted: day of fitting.
    """

    opened: np.ndarray
    origin: np.ndarray
    renewed: np.ndarray
    fitted: np.ndarray
    supplier: np.ndarray
    clock: np.ndarray
    opened_by: np.ndarray
    broken: np.ndarray
    broken_by: np.ndarray


def at_start(records, positions, watch, renewed_days):
    """State at the start of watching (rule 3); `renewed_days` are those of `earlier`, as placed."""
    start = watch.start[positions.appliance].astype(np.int32)
    installed = watch.installed[positions.appliance].astype(np.int32)
    has_day = installed != NO_DAY
    original, renewed = _from_earlier(records.earlier, positions, renewed_days)
    told = renewed != NO_DAY
    new = has_day & (installed == start)
    known = told | new | (original & has_day)
    fitted = np.where(told, renewed, installed)
    return State(
        opened=start,
        origin=np.where(told | has_day, np.minimum(fitted, start), start),
        renewed=renewed,
        fitted=fitted,
        supplier=np.full(len(start), -1, dtype=np.int32),
        clock=np.select([known, has_day], [KNOWN, PERHAPS], NO_AGE).astype(np.int8),
        opened_by=np.where(new, INSTALLED, CARE).astype(np.int8),
        broken=np.zeros(len(start), dtype=bool),
        broken_by=np.full(len(start), -1, dtype=np.int32),
    )


def _from_earlier(earlier, positions, renewed_days):
    at = positions.find(earlier.appliance, earlier.component, np.maximum(earlier.position, 1))
    there, dated = at >= 0, earlier.precision > UNKNOWN
    original = np.zeros(len(positions.number), dtype=bool)
    original[at[there & ~dated]] = True
    renewed = np.full(len(positions.number), NO_DAY, dtype=np.int32)
    np.maximum.at(renewed, at[there & dated], renewed_days[there & dated].astype(np.int32))
    return original, renewed
