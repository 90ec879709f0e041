"""From when until when each appliance is watched."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.records import DAY, NO_DAY
from jobs.reliability.history.silent import Quiet, weigh_silence
from jobs.reliability.history.spells import CLOSED_BY

DAYS_PER_MONTH = 30.4375
LEFT, LOST, AS_OF = (CLOSED_BY.index(word) for word in ("left", "lost", "as-of"))


@dataclass(frozen=True)
class Watch:
    """Per appliance: first and last day watched, installation (NO_DAY: unknown), how it ended (index in CLOSED_BY).

    quiet: whose silence is weighed, None where the window serves for all.
    """

    start: np.ndarray
    end: np.ndarray
    installed: np.ndarray
    ending: np.ndarray
    quiet: Quiet | None


def last_contacts(records, *, as_of):
    """Last contact of each appliance known on `as_of`: start of care, a report or a visit, in days."""
    jobs, visits = records.jobs, records.visits
    latest = np.where(jobs.reported <= as_of, jobs.reported, NO_DAY)
    known = known_visits(records, as_of=as_of)
    np.maximum.at(latest, visits.job[known], visits.day[known])
    contact = records.appliances.in_care_from.copy()
    np.maximum.at(contact, jobs.of_appliance, latest[jobs.of_job])
    for rows in (records.findings, records.fitted):
        seen = known[rows.visit]
        np.maximum.at(contact, rows.appliance[seen], latest[visits.job[rows.visit[seen]]])
    return contact


def known_visits(records, *, as_of):
    """Which visits are known on `as_of`: made by then, on a job reported by then."""
    visits = records.visits
    return (visits.day <= as_of) & (records.jobs.reported[visits.job] <= as_of)


def watch(records, installed, *, as_of, care_window_months, silence="window"):
    """Rule 1: watching of each appliance, with `installed` its days as placed by `place_dates`.

    silence: `window` for all, or `model`: appliances without a yearly service are watched on, and weighed.
    """
    appliances = records.appliances
    exact = (appliances.precision == DAY) & (installed > appliances.in_care_from)
    start = np.where(exact, installed, appliances.in_care_from)
    contact = last_contacts(records, as_of=as_of)
    told = appliances.in_care_until != NO_DAY
    left = told & (appliances.in_care_until <= as_of)
    lost = ~told & (as_of - contact > care_window_months * DAYS_PER_MONTH)
    quiet = weigh_silence(records, start, contact, as_of=as_of) if silence == "model" else None
    if quiet is not None:
        lost &= ~quiet.weighed
    end = np.select([left, lost], [appliances.in_care_until, contact], as_of)
    return Watch(start, end, installed, np.select([left, lost], [LEFT, LOST], AS_OF), quiet)
