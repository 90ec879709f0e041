"""Visits that are booked for the last day and the working days after it, so that nobody's day is empty."""

from jobs.invented import lives, trade
from jobs.invented.diary import SUNDAY

ON_THE_DAY, ON_LATER_DAYS, LATER_DAYS, UNBOOKED = 3, 2, 3, 6


def book_ahead(diary, appliances, day):
    """Give every van its visits: a breakdown and services on `day`, services on the next working days.

    A few calls stay unbooked.
    """
    free = [a for a in appliances if a.care < day < a.until and not a.waits]
    for van in diary.vans:
        near = [a for a in free if a.home.area in van.areas]
        due = sorted((a for a in near if a.home.serviced), key=lambda a: (a.next_service, a.key))
        failing = sorted(near, key=lambda a: (a.next_failure()[0], a.key))
        if failing and _slots(diary, van, day) < ON_THE_DAY:
            diary.visit_on(_called_in(diary, failing[0], day), failing[0], day, van)
            due = [a for a in due if a is not failing[0]]
        for on, wanted in [(day, ON_THE_DAY)] + [(later, ON_LATER_DAYS) for later in _working_days(day)]:
            while due and _slots(diary, van, on) < wanted:
                appliance = due.pop(0)
                job = diary.job(appliance, "service", max(appliance.care, day - 12))
                diary.visit_on(job, appliance, on, van)
        taken = {row["appliance"] for row in diary.jobs[-20:]}
        free = [a for a in free if a.key not in taken]
    for appliance in sorted(free, key=lambda a: (a.next_failure()[0], a.key))[:UNBOOKED]:
        _called_in(diary, appliance, day)


def _slots(diary, van, day):
    return diary.slots_used.get((van.number, day), -1) + 1


def _working_days(day):
    days = [later for later in range(day + 1, day + 9) if later % 7 not in (SUNDAY, 6)]
    return days[:LATER_DAYS]


def _called_in(diary, appliance, day):
    """The next failure of this appliance is called in a little early, by its symptom only."""
    _, position = appliance.next_failure()
    symptom = lives.pick(appliance.rng, trade.symptoms_of(appliance.model.kind, position.component)) or "water-leak"
    return diary.job(appliance, "breakdown", max(appliance.care, day - 1), symptom=symptom)
