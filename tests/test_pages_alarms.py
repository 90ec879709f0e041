"""Alarms, forecasts and failures by model, maker, supplier and month: what the pages tell is what was recorded."""

import csv
import datetime
import io
import re
import uuid
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import ModelComponent
from jobs.models import Fitted
from jobs.services.alarms import firm_alarms
from jobs.services.fitting import fit
from jobs.services.forecasting import firm_forecast
from tests.factories import (
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    PartFactory,
    VisitFactory,
)
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
YEAR = datetime.timedelta(days=365)


def rows_of(answer):
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


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
    failed = [piece for piece in alarms.alarms[0].pieces if piece.failed_on]
    assert len(failed) == 12
    assert all(piece.fetch.startswith("The failed part") and not piece.in_place for piece in failed)
    assert all(60 <= (piece.failed_on - piece.fitted_on).days <= 170 for piece in failed)
    page = owner.get(reverse("alarm_list"))
    without_nothing(page)
    assert "Board" in text_of(page)
    address = next(link for link in page.content.decode().split('"') if link.startswith("/failures/alarms/"))
    detail = owner.get(address)
    without_nothing(detail)
    assert "guarantee" in text_of(detail).lower()
    alarm = alarms.alarms[0]
    rows = rows_of(owner.get(address, {"export": "csv"}))
    assert len(rows) == len(alarm.pieces) > 12
    assert {row["Now"] for row in rows} == {"in place", "no longer there"}


def test_the_component_and_the_appliances_concerned_lead_to_the_alarm(owner, bad_batch):
    alarm = firm_alarms(timezone.localdate()).alarms[0]
    page = owner.get(reverse("component_detail", args=[bad_batch.pk]))
    without_nothing(page)
    assert f"See the {len(alarm.pieces)} fitted parts" in text_of(page)
    assert "An alarm to look at first." in text_of(page)
    there = next(piece for piece in alarm.pieces if piece.in_place)
    words = text_of(owner.get(reverse("appliance_detail", args=[there.appliance])))
    assert "the part in it is one of those that fail too often" in words


def test_this_week_counts_the_alarms_and_adds_up_what_is_in_guarantee(owner, bad_batch):
    alarms = firm_alarms(timezone.localdate()).alarms
    fitted = {piece.fitted for one in alarms for piece in one.pieces if piece.in_guarantee}
    Fitted.objects.filter(pk__in=fitted).update(cost=Decimal("10"))
    cache.clear()
    words = text_of(owner.get(reverse("week")))
    assert f"£{len(fitted) * 10:,}" in words
    assert re.search(rf"Alarms {len(alarms)} alarm", words)


def test_an_address_of_an_alarm_that_no_longer_stands_says_so(owner):
    page = owner.get(reverse("alarm_detail", args=["0123456789ab"]))
    assert page.status_code == 410
    assert "This alarm no longer stands" in text_of(page)
    assert reverse("alarm_list") in page.content.decode()


def test_no_alarm_is_said_plainly(owner):
    assert "No alarm stands" in text_of(owner.get(reverse("alarm_list")))
    assert owner.get(reverse("alarm_detail", args=["none"])).status_code == 404


def test_the_forecast_page_tells_the_forecast(owner, bad_batch):
    page = owner.get(reverse("forecast"))
    without_nothing(page)
    found = firm_forecast(timezone.localdate())
    assert [row.days for row in found.total] == [30, 90, 365]
    assert f"{found.total[2].expected:.0f}" in text_of(page)


def test_the_file_of_the_forecast_holds_its_numbers_unrounded_and_what_they_assume(owner, bad_batch):
    found = firm_forecast(timezone.localdate())
    rows = rows_of(owner.get(reverse("forecast"), {"c-export": "csv"}))
    expected = {row.days: row for row in found.by_component if row.component == bad_batch.key}
    own = next(row for row in rows if row["Component"] == "Board")
    for days, label in ((30, "Next 30 days"), (90, "Next 90 days"), (365, "Next year")):
        assert own[label] == repr(expected[days].expected)
        assert own[f"{label}, likely to"] == str(expected[days].high)
    assert own["Before care"] == found.before_care
    assert own["Method"] == found.method


def test_suppliers_that_are_not_known_stand_last_however_it_is_sorted(owner, bad_batch):
    for sort in ("-failures", "failures", "name"):
        rows = rows_of(owner.get(reverse("component_list"), {"by": "supplier", "sort": sort, "export": "csv"}))
        known = [row["Supplier of the part"] != "not known" for row in rows]
        assert known == sorted(known, reverse=True)
        assert not any("unknown" in row["Supplier of the part"] for row in rows)


def test_months_are_split_by_component_and_maker_and_add_up(owner, bad_batch):
    plain = rows_of(owner.get(reverse("component_list"), {"by": "month", "export": "csv"}))
    total = sum(int(row["Failures"]) for row in plain)
    assert len(plain) == 36
    assert total > 0
    for split, label in (("component", "Component type"), ("maker", "Maker of the appliance")):
        rows = rows_of(owner.get(reverse("component_list"), {"by": "month", "split": split, "export": "csv"}))
        assert sum(int(row["Failures"]) for row in rows) == total
        assert {row[label] for row in rows} == {"Board" if split == "component" else "Norwick"}
    asked = {"by": "month", "component": "board", "maker": "nobody", "split": "x;--"}
    without_nothing(owner.get(reverse("component_list"), asked))


@pytest.mark.parametrize("name", ["component_list", "alarm_list", "forecast", "week"])
def test_the_pages_of_failures_cost_as_many_queries_whatever_the_firm_holds(owner, bad_batch, name):
    counts = []
    for _ in range(2):
        cache.clear()
        with CaptureQueriesContext(connection) as captured:
            without_nothing(owner.get(reverse(name)))
        counts.append(len(captured))
        model = ApplianceModelFactory()
        ModelComponent.objects.create(model=model, component=ComponentTypeFactory())
        for _ in range(3):
            ApplianceFactory(model=model, in_care_from=timezone.localdate() - YEAR)
    assert counts[0] == counts[1]


@pytest.mark.parametrize(("by", "word"), [("model", "Norwick combi"), ("maker", "Norwick"), ("month", "Failures")])
def test_failures_by_another_key(owner, bad_batch, by, word):
    page = owner.get(reverse("component_list"), {"by": by})
    without_nothing(page)
    assert word in text_of(page)
