"""The firm's own past replayed against the proposal, the simple rule and what happened."""

import datetime
import json
import uuid
from decimal import Decimal
from io import StringIO

import numpy as np
import pytest
from django.core.management import call_command

from jobs.models import Needed
from jobs.past_jobs import past_work
from jobs.services import kept_backtests
from jobs.services.backtesting import back_test
from jobs.services.fitting import fit
from tests.factories import JobFactory, PlaceFactory, SupplierFactory, VisitFactory, put
from tests.test_plan_of_firm import Firm

pytestmark = pytest.mark.django_db
FIRST, LAST = datetime.date(2026, 3, 1), datetime.date(2026, 5, 31)


@pytest.fixture
def firm():
    return Firm()


def lacked(firm, day, *, van=None):
    """A breakdown whose first visit found that a pump was missing, and whose second visit fitted it."""
    job = JobFactory(appliance=firm.appliances[1], reported_on=day)
    visit = VisitFactory(job=job, on=day, place=van or firm.north, outcome="part-needed")
    Needed.objects.create(visit=visit, appliance=firm.appliances[1], component=firm.pump)
    VisitFactory(job=job, on=day + datetime.timedelta(days=3), place=van or firm.north, outcome="fixed")
    return job


def test_a_job_is_replayed_on_its_first_visit_with_the_recipes_of_its_components(firm):
    firm.part("cheap", "3")
    lacked(firm, datetime.date(2026, 4, 1))
    work = past_work(FIRST, LAST, as_of=FIRST, second_visit=90)
    assert [(job.day, job.recipes, job.cost) for job in work["north"].jobs] == [
        (datetime.date(2026, 4, 1).toordinal(), ({"cheap": 1},), 90)
    ]
    assert work["north"].finished == [False]


def test_two_components_of_one_job_are_needed_together(firm):
    firm.part("cheap", "3")
    job = lacked(firm, datetime.date(2026, 4, 1))
    fan = type(firm.pump).objects.create(key="fan", name="Fan")
    part = firm.part("blades", "9")
    part.covers.set([fan])
    Needed.objects.create(visit=job.visits.first(), appliance=firm.appliances[1], component=fan)
    [found] = past_work(FIRST, LAST, as_of=FIRST, second_visit=90)["north"].jobs
    assert found.recipes == ({"cheap": 1, "blades": 1},)


def test_the_proposal_is_compared_with_what_happened_and_with_the_rule(firm):
    firm.part("cheap", "3")
    for month in (3, 4, 5):
        lacked(firm, datetime.date(2026, month, 10))
    days = []
    found = back_test(FIRST, LAST, rng=np.random.default_rng(1), told=days.append)
    assert days == [FIRST, datetime.date(2026, 5, 30)]
    assert (found.jobs, found.proposal, found.fact) == (3, 1.0, 0.0)
    assert found.rule == 0.0  # nothing was fitted last year, so the rule knows nothing
    assert (found.against_fact.visits, found.against_fact.money) == (3, 270)


def test_without_past_jobs_there_is_nothing_to_compare(firm):
    found = back_test(FIRST, LAST, rng=np.random.default_rng(1))
    assert (found.jobs, found.against_rule.jobs) == (0, 0)


def test_the_command_tells_the_comparison(firm):
    firm.part("cheap", "3")
    lacked(firm, datetime.date(2026, 4, 1))
    out = StringIO()
    call_command("back_test", "--first", "2026-03-01", "--last", "2026-05-31", "--json", "-v0", stdout=out)
    assert json.loads(out.getvalue())["proposal"] == 1.0
    out = StringIO()
    call_command("back_test", "--first", "2026-03-01", "--last", "2026-05-31", "-v0", stdout=out)
    assert "1 jobs that needed parts" in out.getvalue()


def test_a_back_test_is_kept_once_with_its_inputs_and_days_to_come_are_refused(db):
    first, last = kept_backtests.usual_days(datetime.date(2026, 11, 25))
    assert (first, last) == (datetime.date(2025, 11, 25), datetime.date(2026, 11, 24))
    event, past = uuid.uuid4(), datetime.date(2024, 1, 1)
    kept = kept_backtests.begin(past, past + datetime.timedelta(days=100), event=event)
    assert kept_backtests.begin(past, past, event=event) == kept
    assert (kept.steps, kept.inputs["second_visit"], kept.inputs["seed"]) == (2, 90.0, 1)
    for wrong in ((past, datetime.date.today()), (past, past - datetime.timedelta(days=1))):
        with pytest.raises(kept_backtests.CannotReplay):
            kept_backtests.begin(*wrong, event=uuid.uuid4())


def test_a_replay_that_cannot_be_done_is_kept_with_its_problem(db):
    past = datetime.date(2024, 1, 1)
    kept = kept_backtests.begin(past, past, event=uuid.uuid4())
    done = kept_backtests.work_off(kept.pk)
    assert done.finished_at is not None
    assert done.problem or done.result


@pytest.mark.parametrize(
    ("outcome", "bought", "finished"),
    [("fixed", False, [True]), ("fixed", True, [False]), ("declined", False, [False])],
)
def test_what_was_bought_at_the_counter_on_the_way_was_not_on_board(firm, outcome, bought, finished):
    part, day = firm.part("cheap", "3"), datetime.date(2026, 4, 1)
    visit = fitted_on(firm, part, day, outcome)
    if bought:
        counter = PlaceFactory(key="counter", kind="supplier", supplier=SupplierFactory())
        visit.fitted.update(came_from=counter)
    assert past_work(FIRST, LAST, as_of=FIRST, second_visit=90)["north"].finished == finished


def fitted_on(firm, part, day, outcome):
    put(part, firm.north, 1)
    visit = VisitFactory(job=JobFactory(appliance=firm.appliances[1], reported_on=day), on=day, place=firm.north)
    fit(event=uuid.uuid4(), visit=visit, part=part, component=firm.pump, quantity=Decimal(1), why="failed")
    type(visit).objects.filter(pk=visit.pk).update(outcome=outcome)
    return visit


def test_a_price_to_agree_is_no_matter_of_the_load_and_nobody_in_is_no_first_visit(firm):
    firm.part("cheap", "3")
    job = lacked(firm, datetime.date(2026, 4, 1))
    job.visits.order_by("on")[:1].get().needed.all().update(settled_on=datetime.date(2026, 4, 2))
    VisitFactory(job=job, on=datetime.date(2026, 3, 20), place=firm.south, outcome="no-access")
    [found] = past_work(FIRST, LAST, as_of=FIRST, second_visit=90)["north"].jobs
    assert found.day == datetime.date(2026, 4, 1).toordinal()
    VisitFactory(job=job, on=datetime.date(2026, 3, 25), place=firm.south, outcome="quote-to-agree")
    assert past_work(FIRST, LAST, as_of=FIRST, second_visit=90) == {}
    assert len(past_work(FIRST, LAST, as_of=FIRST, second_visit=90, quoted=True)["south"].jobs) == 1


def test_a_job_that_lacks_what_a_merchant_has_the_same_day_costs_a_run(firm):
    part = firm.part("cheap", "3")
    part.offers.update(same_day=True)
    lacked(firm, datetime.date(2026, 4, 10))
    found = back_test(FIRST, LAST, rng=np.random.default_rng(1))
    assert found.against_fact.money == 25
    assert found.against_fact.money_low <= 25 <= found.against_fact.money_high
    assert [(row.jobs, row.proposal, row.fact) for row in found.periods] == [(1, 1, 0), (0, 0, 0)]
