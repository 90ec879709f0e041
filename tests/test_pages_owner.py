"""The owner's pages: the figures on them are those of the records, every state reads well, and nothing is NaN."""

import csv
import datetime
import io
import re

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from inventory.models import ModelComponent
from jobs import failure_words, history
from jobs.failures import component_life, fleet
from jobs.models import Finding
from jobs.services.trade import load_trade_tables
from tests.factories import (
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    VisitFactory,
)
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def firm(appliances=12, *, key="pump", hazards=("mains",)):
    """A component type in `appliances` appliances of one model, watched from their installation on."""
    component = ComponentTypeFactory(key=key, name=key.capitalize(), hazards=list(hazards))
    model = ApplianceModelFactory()
    ModelComponent.objects.create(model=model, component=component)
    start = TODAY() - datetime.timedelta(days=4000)
    made = [
        ApplianceFactory(
            model=model,
            installed_on=start,
            installed_precision="day",
            in_care_from=start,
            entered_on=start,
            on_service=False,
        )
        for _ in range(appliances)
    ]  # fmt: skip
    for appliance in made:  # a contact of today keeps each in care
        JobFactory(appliance=appliance, kind="service", reported_on=TODAY())
    return component, made


def fails(component, appliance, years):
    day = appliance.installed_on + datetime.timedelta(days=round(years * 365.25))
    visit = VisitFactory(
        job=JobFactory(appliance=appliance, kind="breakdown", reported_on=day), on=day, outcome="fixed"
    )
    return Finding.objects.create(visit=visit, appliance=appliance, component=component)


SAID = {
    "no failures": "None has failed",
    "one failure": "One has failed",
    "all at one age": "All failed at one and the same age",
    "fitted": "lasts about",
}
AGES = {
    "no failures": [],
    "one failure": [3.0],
    "all at one age": [4.0, 4.0],
    "fitted": [2, 4, 5, 6, 7, 8, 8.5, 9, 9.5, 10.0],
}


@pytest.mark.parametrize("state", AGES)
def test_the_page_of_a_component_reads_well_in_every_state(owner, state):
    component, appliances = firm()
    for appliance, age in zip(appliances, AGES[state], strict=False):
        fails(component, appliance, age)
    page = owner.get(reverse("component_detail", args=[component.pk]))
    without_nothing(page)
    words = text_of(page)
    assert SAID[state] in words
    without_nothing(owner.get(reverse("component_list")))
    without_nothing(owner.get(reverse("component_spells", args=[component.pk])))


@pytest.mark.parametrize("assumption", history.BEFORE_CARE)
def test_the_page_tells_the_assumption_on_the_time_before_care_and_takes_others(owner, assumption):
    component, appliances = firm()
    for appliance in appliances[:6]:  # taken over in mid-life
        appliance.in_care_from = appliance.installed_on + datetime.timedelta(days=1500)
        appliance.save()
    for appliance, age in zip(appliances, AGES["fitted"], strict=False):
        fails(component, appliance, age)
    page = owner.get(reverse("component_detail", args=[component.pk]) + f"?before_care={assumption}")
    without_nothing(page)
    assert failure_words.BEFORE_CARE[assumption] in text_of(page)
    assert not re.search(r'd="[^"]*nan', page.content.decode())


def test_the_figures_are_those_of_the_records(owner):
    component, appliances = firm(10)
    for appliance, age in zip(appliances, [3, 5, 6], strict=False):
        fails(component, appliance, age)
    group = fleet(TODAY()).report.groups[0]
    assert group.failures == 3
    assert group.exposure == pytest.approx(10 * 4000 / 365.25, abs=0.1)
    assert group.mtbf == pytest.approx(group.exposure / 3)
    words = text_of(owner.get(reverse("component_detail", args=[component.pk])))
    assert f"{group.mtbf:.0f} years" in words
    assert "in 110 years of pumps in your care" in words


def test_both_pages_show_the_same_best_estimate(owner):
    component, appliances = firm(10)
    fails(component, appliances[0], 3)
    other, _ = firm(5, key="fan")
    of_list = next(group for group in fleet(TODAY()).report.groups if group.group == "pump")
    assert component_life("pump", TODAY()).group.shrunk == of_list.shrunk


def test_a_new_failure_shows_at_once_though_results_are_kept(owner):
    component, appliances = firm(5)
    fails(component, appliances[0], 3)
    page = reverse("component_detail", args=[component.pk])
    assert "One has failed" in text_of(owner.get(page))
    fails(component, appliances[1], 6)
    assert "2 have failed" in text_of(owner.get(page)) or "lasts about" in text_of(owner.get(page))


def test_cautions_of_the_hazards_stand_on_the_page_with_who_may_do_the_work(owner):
    load_trade_tables()
    component, _ = firm(2, key="valve", hazards=("gas", "combustion", "mains"))
    words = text_of(owner.get(reverse("component_detail", args=[component.pk])))
    assert "Gas: leak, fire and explosion" in words
    assert "licensed for it under the local code" in words


def test_a_component_that_nobody_has_says_so(owner):
    component = ComponentTypeFactory()
    page = owner.get(reverse("component_detail", args=[component.pk]))
    without_nothing(page)
    assert "None of these is in your care" in text_of(page)
    assert owner.get(reverse("component_spells", args=[component.pk])).status_code == 404


EMPTY = ["week", "component_list", "alarm_list", "forecast", "margin_list", "cash_list", "not_charged_list"]


@pytest.mark.parametrize("name", EMPTY)
def test_an_empty_firm_gets_pages_that_say_what_to_do(owner, name):
    without_nothing(owner.get(reverse(name)))


@pytest.mark.parametrize("by", ["model", "maker", "supplier", "month"])
def test_every_way_of_counting_failures_stands_a_firm_without_any(owner, by):
    page = owner.get(reverse("component_list"), {"by": by})
    without_nothing(page)
    assert "Import the firm" in text_of(page) or by == "month"
    firm(3)
    without_nothing(owner.get(reverse("component_list"), {"by": by}))


def test_a_component_without_any_known_age_still_has_its_pages(owner):
    component, appliances = firm(6)
    for appliance, age in zip(appliances, (2, 3, 4), strict=False):
        fails(component, appliance, age)
    for appliance in appliances:
        appliance.installed_on, appliance.installed_precision = None, "unknown"
        appliance.save()
    cache.clear()
    for name in ("component_detail", "component_checks", "component_spells"):
        without_nothing(owner.get(reverse(name, args=[component.pk])))
    without_nothing(owner.get(reverse("appliance_detail", args=[appliances[0].pk])))
    without_nothing(owner.get(reverse("forecast")))


def test_the_failures_as_a_file_hold_the_limits_too(owner):
    component, appliances = firm(4)
    fails(component, appliances[0], 2)
    answer = owner.get(reverse("component_list") + "?export=csv&q=pu")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [row["Component"] for row in rows] == ["Pump"]
    assert rows[0]["Failures"] == "1.0"
    assert float(rows[0]["Plain count, likely from"]) < float(rows[0]["Plain count"])
    assert owner.get(reverse("component_list") + "?export=xlsx").content[:2] == b"PK"


def test_what_the_address_asks_and_cannot_be_is_left_aside(owner):
    firm(2)
    for query in ("?sort=__class__", "?page=-3", "?before_care=guess", "?life=;", "?hazard=%00", "?export=exe"):
        assert owner.get(reverse("component_list") + query).status_code == 200


def test_every_status_of_the_report_has_its_words():
    known = {
        "fitted",
        "no-failures",
        "one-failure",
        "all-ages-equal",
        "shape-at-edge",
        "no-known-ages",
        "not-converged",
    }
    assert set(failure_words.STATUS) == known
    assert set(failure_words.WHY) == known - {"fitted"}
