"""Alarms, forecasts and failures by model, maker, supplier and month: what the pages tell is what was recorded."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from inventory.models import ModelComponent
from jobs.services.alarms import firm_alarms
from jobs.services.fitting import fit
from jobs.services.forecasting import firm_forecast
from tests.factories import (
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    OwnerFactory,
    PartFactory,
    VisitFactory,
)
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
YEAR = datetime.timedelta(days=365)


@pytest.fixture
def owner(client):
    cache.clear()
    client.force_login(OwnerFactory())
    return client


def work(appliance, day, part, component):
    """A breakdown on a day, mended by a new part."""
    visit = VisitFactory(
        job=JobFactory(appliance=appliance, kind="breakdown", reported_on=day), on=day, outcome="fixed"
    )
    fit(event=uuid.uuid4(), visit=visit, part=part, component=component, quantity=Decimal(1), why="failed")


@pytest.fixture
def bad_batch():
    """Sixty boards in care for years; twenty were renewed in one month, and twelve of those failed within months."""
    today = timezone.localdate()
    component, part = ComponentTypeFactory(key="board", name="Board"), PartFactory(guarantee_months=24)
    model = ApplianceModelFactory(name="Norwick combi", maker="Norwick")
    ModelComponent.objects.create(model=model, component=component)
    start, batch = today - 6 * YEAR, (today - YEAR).replace(day=3)
    for n in range(60):
        appliance = ApplianceFactory(model=model, installed_on=start, installed_precision="day", in_care_from=start)
        if n % 6 == 5:  # the usual rate: one in six fails in six years
            work(appliance, start + datetime.timedelta(days=200 + 25 * n), part, component)
        if n < 20:
            work(appliance, batch + datetime.timedelta(days=n), part, component)
        if n < 12:
            work(appliance, batch + datetime.timedelta(days=60 + 10 * n), part, component)
        JobFactory(appliance=appliance, kind="service", reported_on=today)
    return component


def test_a_bad_batch_is_told_with_its_evidence_and_the_parts_that_it_concerns(owner, bad_batch):
    alarms = firm_alarms(timezone.localdate())
    assert alarms.alarms, "twelve of twenty within months are many times the usual"
    page = owner.get(reverse("alarm_list"))
    without_nothing(page)
    assert "Board" in text_of(page)
    address = next(link for link in page.content.decode().split('"') if link.startswith("/failures/alarms/"))
    detail = owner.get(address)
    without_nothing(detail)
    assert "guarantee" in text_of(detail).lower()


def test_no_alarm_is_said_plainly(owner):
    assert "No alarm stands" in text_of(owner.get(reverse("alarm_list")))
    assert owner.get(reverse("alarm_detail", args=["none"])).status_code == 404


def test_the_forecast_page_tells_the_forecast(owner, bad_batch):
    page = owner.get(reverse("forecast"))
    without_nothing(page)
    found = firm_forecast(timezone.localdate())
    assert [row.days for row in found.total] == [30, 90, 365]
    assert f"{found.total[2].expected:.0f}" in text_of(page)


@pytest.mark.parametrize(("by", "word"), [("model", "Norwick combi"), ("maker", "Norwick"), ("month", "Failures")])
def test_failures_by_another_key(owner, bad_batch, by, word):
    page = owner.get(reverse("component_list"), {"by": by})
    without_nothing(page)
    assert word in text_of(page)
