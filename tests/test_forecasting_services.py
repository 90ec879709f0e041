"""Forecast, prompts, replacement and alarms from the firm's own records."""

import datetime

import numpy as np
import pytest

from jobs.models import Appliance
from jobs.services.alarms import firm_alarms
from jobs.services.forecasting import firm_forecast
from jobs.services.prompts import replacement_plan, service_prompts, while_you_are_there
from tests.spell_firms import random_firm
from tests.test_history_from_database import book

pytestmark = pytest.mark.django_db
AS_OF = datetime.date(2022, 6, 30)


@pytest.fixture
def firm(db):
    book(random_firm(np.random.default_rng(7), appliances=40, busy=5))


def test_vans_add_up_to_components_and_these_to_the_firm(firm):
    found = firm_forecast(AS_OF)
    for days in found.days:
        rows, kinds, vans, total = (
            [row for row in table if row.days == days]
            for table in (found.rows, found.by_component, found.by_van, found.total)
        )
        for table in (rows, kinds, vans):
            assert sum(row.expected for row in table) == pytest.approx(total[0].expected, rel=1e-6)
            assert sum(row.in_care for row in table) == pytest.approx(total[0].in_care, rel=1e-6)
        assert total[0].low <= total[0].expected < total[0].high + 1


def test_every_position_in_care_has_a_prompt_with_numbers(firm):
    prompts = {appliance: service_prompts(appliance, AS_OF) for appliance in Appliance.objects.all()}
    told = [prompt for own in prompts.values() for prompt in own]
    assert told
    assert all(np.isfinite([p.age, p.hazard_per_year, p.expected]).all() and p.expected > 0 for p in told)
    for own in prompts.values():
        assert [p.expected for p in own] == sorted((p.expected for p in own), reverse=True)
    assert all(not one.worth or one.saved > one.price for a in prompts for one in while_you_are_there(a, AS_OF))


def test_planned_replacement_never_pays_without_shown_wear_or_a_dearer_failure(firm):
    for row in firm_forecast(AS_OF).by_component:
        assert not replacement_plan(row.component, AS_OF, planned_cost=100, failure_cost=100).pays
    assert not replacement_plan("no-such-thing", AS_OF, planned_cost=1, failure_cost=9).pays


def test_alarms_keep_to_their_budget_and_say_what_they_rest_on(firm):
    found = firm_alarms(AS_OF)
    assert found.streams > 0
    assert 0 <= found.false_alarms_a_year <= 1.01
    assert all(alarm.level_reached >= found.threshold and alarm.since <= alarm.raised_on for alarm in found.alarms)


def test_a_firm_without_records_forecasts_nothing(db):
    assert firm_forecast(AS_OF).total[0].expected == 0
    assert firm_alarms(AS_OF).alarms == ()
