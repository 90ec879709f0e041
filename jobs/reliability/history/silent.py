"""Appliances without a yearly service: their silence gives no date, so what came after the last contact is weighed."""

from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.ragged import runs
from jobs.reliability.history.records import NO_DAY
from jobs.reliability.history.spells import CLOSED_BY, DAYS_PER_YEAR
from jobs.reliability.silence import Silence, fit_silence, mean_still_in_care, still_in_care

PIECE_DAYS = 91
LOST, SILENT = CLOSED_BY.index("lost"), CLOSED_BY.index("silent")


@dataclass(frozen=True)
class Quiet:
    """Per appliance: whether its silence is weighed, and the day of its last contact; and the rates behind it."""

    weighed: np.ndarray
    contact: np.ndarray
    rates: Silence

    def chance(self, as_of):
        """P(still in care on `as_of`) of each appliance, 1 where silence is not weighed."""
        silent = np.where(self.weighed, (as_of - self.contact) / DAYS_PER_YEAR, 0.0)
        return np.where(self.weighed, still_in_care(silent, silent, self.rates.contact, self.rates.leaving), 1.0)


def weigh_silence(records, start, contact, *, as_of) -> Quiet:
    """Contact and leaving rates of the appliances without a yearly service, and whose silence they are to weigh.

    start, contact: first day watched and last contact of each appliance. A job is one contact, on the day of its
    report; those on or before the start are not counted. Who left on a known day was in care until then, and saying
    so is a contact.
    Without a contact nothing is weighed and the window serves.
    """
    appliances = records.appliances
    told = appliances.in_care_until != NO_DAY
    left = told & (appliances.in_care_until <= as_of)
    end = np.where(left, appliances.in_care_until, as_of)
    own = ~appliances.on_service & (start <= end)
    last = np.where(told, end, np.maximum(contact, start))
    contacts = _jobs_after(records, start, end)
    watched, silence = (last - start) / DAYS_PER_YEAR, np.where(told, 0.0, (as_of - last) / DAYS_PER_YEAR)
    rates = fit_silence((contacts + left)[own], watched[own], silence[own])
    return Quiet(own & ~told & bool(np.isfinite(rates.contact)), np.maximum(contact, start), rates)


def _jobs_after(records, start, end):
    """Jobs about each appliance that were reported after `start`, by `end`."""
    jobs = records.jobs
    day = jobs.reported[jobs.of_job]
    after = (day > start[jobs.of_appliance]) & (day <= end[jobs.of_appliance])
    return np.bincount(jobs.of_appliance[after], minlength=start.size)


def cut_tails(appliance, opened, closed, quiet: Quiet, *, as_of):
    """Cut spells that run on into a silence: (row, opened, closed, weight, ending) of every piece.

    appliance, opened, closed: of each spell, days. Up to the last contact a spell keeps its weight and ends as
    `lost`; then come pieces of at most 91 days. ending: index in CLOSED_BY, -1 where the spell was left as it is.
    """
    contact = np.maximum(quiet.contact[appliance], opened)
    tailed = quiet.weighed[appliance] & (closed > contact)
    length = np.where(tailed, closed - contact, 0)
    whole = ~tailed | (opened < contact)
    count = -(-length // PIECE_DAYS)
    row, place = runs(-whole.astype(int), whole + count)
    begin = np.where(place < 0, opened[row], contact[row] + place * PIECE_DAYS)
    end = np.where(place < 0, np.where(tailed, contact, closed)[row], np.minimum(begin + PIECE_DAYS, closed[row]))
    last = quiet.contact[appliance][row]
    since, until, silent = ((day - last) / DAYS_PER_YEAR for day in (begin, end, as_of))
    in_tail = place >= 0
    rates = quiet.rates
    weight = np.ones(row.size)
    weight[in_tail] = mean_still_in_care(since[in_tail], until[in_tail], silent[in_tail], rates.contact, rates.leaving)
    return row, begin, end, weight, np.where(in_tail, SILENT, np.where(tailed[row], LOST, -1))
