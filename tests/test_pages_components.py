"""A component type's page and its checks: what is due, what to do, and the answers under other assumptions."""

import csv
import io
import re

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from jobs import lives
from jobs.checks import checks
from jobs.services.forecasting import firm_forecast
from tests.factories import ComponentTypeFactory, OfferFactory, PartFactory, PlaceFactory, PriceFactory
from tests.owner_firm import fails, owner_firm, worn
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def page_of(owner, component, name="component_detail", query=""):
    cache.clear()
    page = owner.get(reverse(name, args=[component.pk]) + query)
    without_nothing(page)
    return page


def priced(component, price):
    part = PartFactory(fits_any=True)
    part.covers.add(component)
    PriceFactory(offer=OfferFactory(part=part), price_ex_vat=price)
    return part


def rows_of(answer):
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_what_is_due_stands_in_all_and_by_van_as_the_forecast_gives_it(owner):
    component, appliances = owner_firm()
    PlaceFactory(key="van-1", name="van 1", post_areas=[appliances[0].address.post_area])
    worn(component, appliances)
    words = text_of(page_of(owner, component))
    for row in firm_forecast(TODAY()).by_component:
        assert f"{row.expected:.1f} {row.low} to {row.high}" in words
    assert "van 1" in words
    assert "Next 30 days" in words
    assert "Next year" in words


@pytest.mark.parametrize(
    ("ages", "said"),
    [
        ([], "there is no age at which renewing one ahead of failure would pay"),
        ([0.1, 0.2, 0.2, 0.3, 0.4, 0.5, 0.8, 1, 1.5, 8], "so renewing one ahead of failure never pays"),
        ([3, 6, 10], "It is not shown that they wear out"),
    ],
)
def test_renewing_ahead_of_failure_is_never_advised_without_shown_wear(owner, ages, said):
    component, appliances = owner_firm()
    priced(component, "1.00")
    for appliance, age in zip(appliances, ages, strict=False):
        fails(component, appliance, age)
    words = text_of(page_of(owner, component))
    assert said in words
    assert "Wait until they fail" in words


def test_renewing_ahead_of_failure_names_what_it_was_reckoned_with(owner):
    component, appliances = owner_firm(hours_usual="0.25")
    worn(component, appliances)
    assert "No price, no advice" in text_of(page_of(owner, component))
    part = priced(component, "2.00")
    words = text_of(page_of(owner, component))
    assert f"Reckoned with {part.number} at £2.00 and 0.25 hours" in words
    assert re.search(r"Renew at about \d+\.\d years", words)


def test_the_checks_hold_every_assumption_and_their_file_is_unrounded(owner):
    component, appliances = owner_firm(care_after_days=1200)
    worn(component, appliances)
    words = text_of(page_of(owner, component, "component_checks"))
    answers = lives.sensitivity(TODAY(), component=component.key)
    assert {"usual", "first", "unknown", "lost-none", "lost-double", "silence-window"} < {one.key for one in answers}
    assert {"window-half", "window-double"} < {one.key for one in answers}
    assert all(answer.words in words for answer in answers)
    rows = rows_of(owner.get(reverse("component_checks", args=[component.pk]) + "?export=csv"))
    for row, answer in zip(rows, answers, strict=True):
        group = answer.groups[component.key]
        for label, name in (("Plain count", "mtbf"), ("Best estimate", "shrunk"), ("Shape, likely to", "shape_high")):
            assert row[label] == ("" if (value := getattr(group, name)) is None else repr(value))


def test_the_usual_answer_is_the_one_that_all_pages_and_the_api_give(owner):
    component, appliances = owner_firm(care_after_days=1200)
    worn(component, appliances)
    usual = lives.sensitivity(TODAY(), component=component.key)[0].groups[component.key]
    assert usual == next(one for one in lives.report(TODAY()).groups if one.group == component.key)
    told = owner.get("/api/v1/lives/", {"as_of": TODAY().isoformat(), "component": component.key}).json()
    assert told["groups"][0]["shape_low"] == usual.shape_low


def test_failures_expected_by_the_age_of_appliances_add_up_to_those_seen(owner):
    component, appliances = owner_firm(care_after_days=1200)
    worn(component, appliances)
    found = checks(component.key, TODAY())
    seen, wanted = sum(band[2] for band in found.bands), sum(band[3] for band in found.bands)
    assert wanted == pytest.approx(seen, rel=0.15)
    words = text_of(page_of(owner, component, "component_checks"))
    assert f"{seen:.0f} failed in appliances whose age is known; the fitted life expects {wanted:.1f}" in words
    assert "Failures of one place, added up" in words


@pytest.mark.parametrize("failed", [0, 1, 2, 12])
def test_the_checks_read_well_with_few_failures_and_many(owner, failed):
    component, appliances = owner_firm()
    for appliance in appliances[:failed]:
        fails(component, appliance, 4.0)
    page_of(owner, component, "component_checks")


def test_a_type_that_nobody_has_in_care_says_so_on_its_checks_too(owner):
    owner_firm(1)
    fan = ComponentTypeFactory(key="fan", name="Fan")
    assert "None of these is in your care" in text_of(page_of(owner, fan, "component_checks"))


def test_the_assumption_that_was_asked_for_is_kept_by_the_links(owner):
    component, appliances = owner_firm()
    worn(component, appliances)
    asked = "before_care=first"
    for query in ({}, {"by": "model"}):
        page = owner.get(reverse("component_list"), query | {"before_care": "first"})
        assert f"{reverse('component_detail', args=[component.pk])}?{asked}" in page.content.decode()
    page = page_of(owner, component, query=f"?{asked}").content.decode()
    assert f"{reverse('component_spells', args=[component.pk])}?{asked}" in page
    assert f"{reverse('component_checks', args=[component.pk])}?{asked}" in page
    assert f"{reverse('component_list')}?{asked}" in page


def test_seasons_stand_as_picture_and_table(owner):
    component, appliances = owner_firm()
    worn(component, appliances)
    page = page_of(owner, component)
    assert "Seasons" in text_of(page)
    assert "Times the mean month" in text_of(page)


def test_the_pages_of_components_cost_as_many_queries_whatever_the_firm_holds(owner, django_assert_max_num_queries):
    counts = []
    for n in range(2):
        component, appliances = owner_firm(6 + 8 * n, key=f"pump-{n}")
        worn(component, appliances)
        own = []
        for name in ("component_detail", "component_checks", "component_spells"):
            cache.clear()
            with django_assert_max_num_queries(400) as captured:
                owner.get(reverse(name, args=[component.pk]))
            own.append(len(captured))
        counts.append(own)
    assert counts[0] == counts[1]
