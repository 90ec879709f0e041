"""What must hold of the days of an appliance: installed, parts renewed before care, in care from and until."""

from datetime import date

import numpy as np
from django.utils import timezone

from jobs.models import Appliance, Earlier, Precision
from jobs.reliability.history import NO_DAY, PRECISIONS, Appliances, place_dates
from jobs.reliability.history import Earlier as EarlierRows
from jobs.services.importing.known import rows_of

EPOCH = date(1970, 1, 1).toordinal()


def care_ends_after_it_began(files, known, problems):
    for row in rows_of(files, "appliances"):
        if row.in_care_from and row.in_care_until and row.in_care_until < row.in_care_from:
            reason = f"Before the start of care on {row.in_care_from}."
            problems.error("appliances", row.row, "in_care_until", row.in_care_until, reason)


def imprecise_dates_have_a_day(files, known, problems):
    """Rule 2 of the spells: installed ≤ renewed_on ≤ in_care_from, each within its own precision."""
    if "appliances" not in files and "earlier" not in files:
        return
    stored = Appliance.objects.values_list(
        "number", "installed_on", "installed_precision", "in_care_from", "entered_on"
    )
    dates = {row[0]: ((row[1], row[2]), row[3], row[4]) for row in stored.iterator(10_000)}
    for row in rows_of(files, "appliances"):
        _overlay(dates, row, files["appliances"])
    numbers = {number: place for place, number in enumerate(dates)}
    earlier = [row for row in _earlier(files) if row[0] in numbers]
    placed = place_dates(_appliance_rows(dates, _first_contacts(files, known)), _earlier_rows(earlier, numbers))
    _tell_installed(files, placed, numbers, problems)
    _tell_renewed(files, placed, earlier, problems)


def _overlay(dates, row, read):
    installed, care, entered = dates.get(row.appliance, ((None, Precision.UNKNOWN), None, timezone.localdate()))
    installed = row.installed_on if read.has("installed_on") else installed
    care = row.in_care_from if read.has("in_care_from") else care
    dates[row.appliance] = (installed, care, entered)


def _first_contacts(files, known):
    """{appliance: day} of the first report or visit."""
    found = {}

    def met(appliance, on):
        if appliance is not None and on < found.get(appliance, date.max):
            found[appliance] = on

    for appliance, _, reported, _ in known.jobs.values():
        met(appliance, reported)
    for job, on, _ in known.visits.values():
        if job in known.jobs:
            met(known.jobs[job][0], on)
    for row in [*rows_of(files, "findings"), *rows_of(files, "fitted"), *rows_of(files, "needed")]:
        job = known.visits.get(row.visit, (None,))[0]
        if row.appliance and job in known.jobs:
            met(row.appliance, min(known.jobs[job][2], known.visits[row.visit][1]))
    return found


def _earlier(files):
    """[(appliance, component, position, day or None, precision, row in the file or None)]."""
    stored = Earlier.objects.values_list("appliance__number", "component__key", "position", "renewed_on", "precision")
    found = {tuple(row[:3]): (row[3], row[4], None) for row in stored.iterator(10_000)}
    for row in rows_of(files, "earlier"):
        found[row.appliance, row.component, row.position] = (*row.renewed_on, row.row)
    return [(*key, *said) for key, said in found.items()]


def _appliance_rows(dates, contacts):
    installed = [_day(row[0][0]) for row in dates.values()]
    precision = [PRECISIONS.index(row[0][1]) for row in dates.values()]
    care = [_day(row[1] or contacts.get(number) or row[2]) for number, row in dates.items()]
    empty = np.zeros(len(dates), dtype=np.int64)
    return Appliances(
        model=empty,
        post_area=empty,
        installed=np.array(installed, dtype=np.int64),
        precision=np.array(precision, dtype=np.int64),
        in_care_from=np.array(care, dtype=np.int64),
        in_care_until=np.full(len(dates), NO_DAY),
        on_service=empty,
    )


def _earlier_rows(earlier, numbers):
    nothing = np.zeros(len(earlier), dtype=np.int64)
    return EarlierRows(
        appliance=np.array([numbers[row[0]] for row in earlier], dtype=np.int64),
        component=nothing,
        position=nothing,
        renewed=np.array([_day(row[3]) for row in earlier], dtype=np.int64),
        precision=np.array([PRECISIONS.index(row[4]) for row in earlier], dtype=np.int64),
    )


def _day(on):
    return NO_DAY if on is None else on.toordinal() - EPOCH


def _tell_installed(files, placed, numbers, problems):
    for row in rows_of(files, "appliances"):
        if placed.installed_impossible[numbers[row.appliance]]:
            reason = "No day of this period lies on or before the start of care."
            problems.error("appliances", row.row, "installed_on", _as_written(row.installed_on), reason)


def _tell_renewed(files, placed, earlier, problems):
    for (appliance, _, _, on, precision, row), impossible in zip(earlier, placed.renewed_impossible, strict=True):
        if impossible and row is not None:
            reason = f"No day of this period lies between the installation of {appliance} and its start of care."
            problems.error("earlier", row, "renewed_on", _as_written((on, precision)), reason)


def _as_written(imprecise):
    on, precision = imprecise
    length = {Precision.YEAR: 4, Precision.MONTH: 7}.get(precision, 10)
    return "" if on is None else on.isoformat()[:length]


RULES = [care_ends_after_it_began, imprecise_dates_have_a_day]
