import datetime

import pytest

from jobs.models import Visit
from jobs.records import in_order
from tests.factories import JobFactory, VisitFactory


@pytest.mark.django_db
def test_visits_go_by_day_then_time_then_key_and_those_without_a_time_come_last():
    job, day = JobFactory(), datetime.date(2025, 3, 1)
    made = [
        VisitFactory(job=job, on=on, time=time).pk
        for on, time in [
            (day, None),
            (day, datetime.time(13, 30)),
            (day, datetime.time(8, 5, 0, 5000)),
            (day, datetime.time(8, 5)),
            (day, datetime.time(13, 30)),
            (day, datetime.time(23, 59, 59)),
            (day - datetime.timedelta(1), None),
            (day, datetime.time(0)),
        ]
    ]
    jobs, pks, days = in_order(Visit.objects.all(), "job_id")
    assert pks.tolist() == [made[at] for at in (6, 7, 3, 2, 1, 4, 5, 0)]
    assert set(jobs.tolist()) == {job.pk}
    assert days[1:].tolist() == [(day - datetime.date(1970, 1, 1)).days] * 7
    assert days[0] == days[1] - 1
