"""A component type's life age by age: the same on the page, in its file and over the API; other assumptions kept."""

import csv
import io
import re
from html import unescape

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from firm.models import Setting
from jobs.failures import component_life
from jobs.models import Appliance
from jobs.services.forecasting import firm_forecast
from tests.api_phone import Phone
from tests.factories import ComponentTypeFactory, OfficeFactory, OwnerFactory
from tests.owner_firm import fails, owner_firm, worn
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
ENDS = {"survival": "Still working", "hazard": "Failures added up"}


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


def rows_of(answer):
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


@pytest.mark.parametrize("before_care", ["perhaps", "first"])
def test_ages_are_the_same_in_the_file_over_the_api_and_in_the_picture(owner, before_care):
    component, appliances = owner_firm()
    worn(component, appliances)
    asked = {"before_care": before_care}
    told = Phone(OfficeFactory()).get("lives/curves/", component=component.key, **asked).json()
    life = component_life(component.key, timezone.localdate(), before_care)
    assert told["counted"] == [vars(point) for point in life.group.curve]
    assert [(row["age"], row["survival"], row["survival_low"], row["survival_high"]) for row in told["fitted"]] == (
        life.curve
    )
    assert [row["rate"] for row in told["bands"]] == [band[2] for band in life.bands]
    rows = rows_of(owner.get(reverse("component_ages", args=[component.pk]), asked | {"export": "csv"}))
    for row, point in zip(rows, told["counted"], strict=True):
        assert float(row["Age, years"]) == point["age"]
        for key, label in ENDS.items():
            assert float(row[label]) == point[key]
            assert float(row[f"{label}, likely from"] or -1) == (point[f"{key}_low"] or -1)
            assert float(row[f"{label}, likely to"] or -1) == (point[f"{key}_high"] or -1)
    page = owner.get(reverse("component_detail", args=[component.pk]), asked)
    without_nothing(page)
    assert f"{told['counted'][-1]['hazard']:.2f}" in text_of(page)
    assert "Failures added up with age" in text_of(page)


def test_a_type_of_which_none_failed_has_its_pages(owner):
    component, _ = owner_firm()
    for name in ("component_detail", "component_checks", "component_ages", "component_spells"):
        page = owner.get(reverse(name, args=[component.pk]))
        without_nothing(page)
        assert page.status_code == 200
    told = Phone(OwnerFactory()).get("lives/curves/", component=component.key).json()
    assert (told["status"], told["counted"], told["fitted"]) == ("no-failures", [], [])
    assert told["bands"]


def test_a_type_that_nobody_has_in_care_has_no_curves():
    component = ComponentTypeFactory()
    told = Phone(OwnerFactory()).get("lives/curves/", component=component.key).json()
    assert (told["status"], told["counted"], told["bands"]) == ("", [], [])
    assert Phone(OwnerFactory()).get("lives/curves/").json()["field"] == "component"
    assert Phone(OwnerFactory()).get("lives/curves/", component="flux").status_code == 400


def test_one_click_gives_the_other_answers_and_says_that_they_are_not_the_usual_one(owner):
    component, appliances = owner_firm(care_after_days=1200)
    worn(component, appliances)
    months = Setting.current().care_window_months
    for address in (reverse("component_list"), reverse("component_detail", args=[component.pk]), reverse("forecast")):
        page = owner.get(address)
        assert "Not as we usually reckon" not in text_of(page)
        for query in ("before_care=first", "before_care=unknown", f"care_window={months / 2:g}",
                      f"care_window={months * 2:g}"):  # fmt: skip
            assert f"?{query}" in page.content.decode()
            other = owner.get(f"{address}?{query}")
            without_nothing(other)
            assert "Not as we usually reckon" in text_of(other)
    by_model = owner.get(reverse("component_list") + "?by=model").content.decode()
    assert f"care_window={months / 2:g}" in by_model
    assert "before_care" not in by_model


@pytest.mark.parametrize("text", ["nan", "-3", "many", "1e9", "", "inf"])
def test_a_care_window_that_cannot_be_is_left_aside(owner, text):
    assert "Not as we usually reckon" not in text_of(owner.get(reverse("component_list"), {"care_window": text}))


def test_what_will_fail_next_under_another_assumption_is_the_same_on_the_page_and_over_the_api(owner):
    component, appliances = owner_firm(care_after_days=1200)
    worn(component, appliances)
    usual = firm_forecast(timezone.localdate()).total
    for asked in ({"before_care": "first"}, {"before_care": "unknown"}, {"care_window": "3"}):
        rows = rows_of(owner.get(reverse("forecast"), asked | {"c-export": "csv"}))
        told = Phone(OwnerFactory()).get("forecasts/", by="component", **asked).json()
        assert told["before_care"] == asked.get("before_care", "perhaps")
        (row,) = rows
        found = {one["days"]: one for one in told["results"]}
        for days, word in ((30, "30 days"), (90, "90 days"), (365, "year")):
            assert float(row[f"Next {word}"]) == found[days]["expected"]
            assert int(row[f"Next {word}, likely to"]) == found[days]["high"]
        if asked.get("before_care") == "first":
            assert found[365]["expected"] != usual[-1].expected


def test_the_latest_failures_say_how_old_each_may_have_been(owner):
    component, appliances = owner_firm(care_after_days=1200)
    fails(component, appliances[0], 9.0)
    address = reverse("component_detail", args=[component.pk])
    page = owner.get(address)
    assert "at most 9.0 years old" in text_of(page)
    assert reverse("appliance_detail", args=[appliances[0].pk]) in page.content.decode()
    assert "at most 9.0 years old" not in text_of(owner.get(address + "?before_care=first"))


def test_a_model_s_name_leads_to_all_that_fails_in_it(owner):
    component, appliances = owner_firm()
    worn(component, appliances)
    page = owner.get(reverse("component_detail", args=[component.pk])).content.decode()
    (link,) = set(re.findall(r'href="([^"]*by=model[^"]*)"', page))
    rows = rows_of(owner.get(unescape(link) + "&export=csv"))
    assert [row["Component"] for row in rows] == [component.name]


def test_the_plain_count_is_drawn_as_far_as_five_were_watched():
    component, appliances = owner_firm(appliances=6)
    fails(component, appliances[0], 3.0)
    day = appliances[5].installed_on
    Appliance.objects.filter(pk__in=[one.pk for one in appliances[1:3]]).update(in_care_until=day.replace(day.year + 8))
    life = component_life(component.key, timezone.localdate())
    assert life.watched_to == pytest.approx(8, abs=0.01)
    assert life.oldest > 10
