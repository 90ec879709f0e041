"""An appliance's page: how likely each component is to fail, what to look at, what to renew, and what to ask."""

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import Caution, ModelComponent
from jobs.leak_paths import leak_paths
from jobs.models import Cause, Earlier, Finding, Symptom
from jobs.outlook_words import one_in, one_in_between
from jobs.services.prompts import service_prompts, while_you_are_there, worth_asking
from tests.api_phone import Phone
from tests.factories import (
    ApplianceFactory,
    ComponentTypeFactory,
    JobFactory,
    OfferFactory,
    OwnerFactory,
    PartFactory,
    PriceFactory,
)
from tests.owner_firm import fails, owner_firm, worn
from tests.page_text import text_of, without_nothing

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def page_of(owner, appliance, query=""):
    cache.clear()
    page = owner.get(reverse("appliance_detail", args=[appliance.pk]) + query)
    without_nothing(page)
    return page


def priced(component, price, **part):
    made = PartFactory(fits_any=True, **part)
    made.covers.add(component)
    PriceFactory(offer=OfferFactory(part=made), price_ex_vat=price)
    return made


def test_each_component_has_its_chance_in_plain_words(owner):
    component, appliances = owner_firm(care_after_days=2500)
    worn(component, appliances)
    words = text_of(page_of(owner, appliances[0]))
    prompt = service_prompts(appliances[0], TODAY())[0]
    assert one_in(prompt.hazard_per_year) in words
    assert f"chance of failing before the service after: {one_in(prompt.expected)}" in words


@pytest.mark.parametrize(
    ("share", "said"),
    [(1 / 14, "about 1 in 14"), (0.7, "more likely than not"), (1e-5, "under 1 in 1,000"), (1 / 123, "about 1 in 120"),
     (None, "not known"), (float("nan"), "not known")],
)  # fmt: skip
def test_chances_are_said_in_few_figures(share, said):
    assert one_in(share) == said


def test_what_to_renew_meanwhile_is_never_used_copied_or_reconditioned(owner):
    component, appliances = owner_firm(hazards=("gas",), approved_new_only=True, approved_reason="A safety part.")
    worn(component, appliances)
    for grade in ("unapproved-copy", "reconditioned"):
        priced(component, "0.10", grade=grade)
    assert while_you_are_there(appliances[0], TODAY()) == ()
    new = priced(component, "1.00", grade="maker-new")
    told = [one for appliance in appliances for one in while_you_are_there(appliance, TODAY())]
    assert {one.part.pk for one in told} == {new.pk}
    words = text_of(page_of(owner, appliances[-1]))
    assert "Renew while you are there" in words
    assert new.number in words
    assert "A safety part." in words
    assert "licensed" in words


def test_the_one_thing_to_ask_is_what_would_change_the_outlook_most(owner):
    component, appliances = owner_firm(care_after_days=3000)
    worn(component, appliances)
    prompts = service_prompts(appliances[-1], TODAY())
    asked = worth_asking(prompts)
    assert asked.if_original > asked.expected > asked.if_renewed
    page = page_of(owner, appliances[-1])
    assert "Read the date code of the pump at the next service" in text_of(page)
    assert f"component={component.pk}&amp;position=1#h-earlier" in page.content.decode()
    Earlier.objects.create(appliance=appliances[-1], component=component, position=1)
    assert "Read the date code" not in text_of(page_of(owner, appliances[-1]))


def test_the_link_opens_the_form_on_the_position_that_was_asked_for(owner):
    component, appliances = owner_firm()
    page = page_of(owner, appliances[0], f"?component={component.pk}&position=1").content.decode()
    assert '<details id="h-earlier" open>' in page
    assert f'<option value="{component.pk}" selected>' in page


def test_without_a_date_of_installation_that_is_what_to_ask_for(owner):
    component, appliances = owner_firm(2)
    appliances[0].installed_on, appliances[0].installed_precision = None, "unknown"
    appliances[0].save()
    assert "Read on its plate when it was installed" in text_of(page_of(owner, appliances[0]))


def test_one_out_of_care_has_no_chances_and_says_so(owner):
    component, appliances = owner_firm(2)
    appliances[0].in_care_until = TODAY()
    appliances[0].save()
    assert "not in care" in text_of(page_of(owner, appliances[0]))


def test_an_appliance_costs_as_many_queries_whatever_it_holds(owner):
    component, appliances = owner_firm(4)
    priced(component, "1.00")
    counts = []
    for _ in range(2):
        cache.clear()
        with CaptureQueriesContext(connection) as captured:
            owner.get(reverse("appliance_detail", args=[appliances[0].pk]))
        counts.append(len(captured))
        for _ in range(3):
            other = ComponentTypeFactory()
            ModelComponent.objects.create(model=appliances[0].model, component=other)
            priced(other, "1.00")
            JobFactory(appliance=ApplianceFactory(model=appliances[0].model), reported_on=TODAY())
    assert counts[0] == counts[1]


def test_known_leaks_stand_where_the_appliance_holds_the_component_and_bring_its_cautions(owner):
    pump, (appliance, *others) = owner_firm(failure_modes=["external leakage", "stuck"])
    radiator = ComponentTypeFactory(failure_modes=["external leakage"])
    Caution.objects.create(hazard="mains", title="Mains electricity", licence="For an electrician.")
    symptom = Symptom.objects.create(key="water-leak")
    for component, test in ((pump, "Wet at the motor joint."), (radiator, "Rust blister.")):
        Cause.objects.create(symptom=symptom, component=component, share="0.1", kinds=[appliance.model.kind],
                             quick_test=test)  # fmt: skip
    words = text_of(page_of(owner, appliance))
    assert "Look for leaks" in words
    assert "wet at the motor joint." in words
    assert "Rust blister" not in words
    assert "failures found on this model" not in words
    for other, mode in zip(others, ["external leakage", "external leakage", "stuck", ""], strict=False):
        finding = fails(pump, other, 5)
        Finding.objects.filter(pk=finding.pk).update(failure_mode=mode)
    page = page_of(owner, appliance)
    assert "2 of 3 failures found on this model were leaks" in text_of(page)
    assert "Mains electricity" in text_of(page)
    told = Phone(OwnerFactory()).get(f"appliances/{appliance.number}/components/").json()["leak_paths"]
    assert told == [{"component": "pump", "test": "Wet at the motor joint.", "leaks": 2, "of": 3}]


def test_a_leak_that_the_trade_does_not_name_is_told_from_the_second_on():
    pump, appliances = owner_firm(failure_modes=["stuck"])
    for many, appliance in enumerate(appliances[:2], start=1):
        finding = fails(pump, appliance, 5)
        Finding.objects.filter(pk=finding.pk).update(failure_mode="internal leakage")
        told = [(path.test, path.leaks, path.of) for path in leak_paths(appliance.model, [pump])]
        assert told == ([("", 2, 2)] if many == 2 else [])


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(1 / 60, 1 / 30, "1 in 60 to 1 in 30"), (1e-5, 0.7, "up to more than 1 in 2"), (1e-5, 1e-4, ""), (None, 0.1, ""),
     (0.0, 0.0, "")],
)  # fmt: skip
def test_the_range_of_a_chance_is_said_from_the_smaller_to_the_greater(low, high, said):
    assert one_in_between(low, high) == said


def test_a_chance_stands_with_its_range_on_the_page_and_over_the_api(owner):
    component, appliances = owner_firm(care_after_days=2500)
    worn(component, appliances)
    prompt = service_prompts(appliances[0], TODAY())[0]
    assert prompt.hazard_low < prompt.hazard_per_year < prompt.hazard_high
    assert one_in_between(prompt.hazard_low, prompt.hazard_high) in text_of(page_of(owner, appliances[0]))
    (told,) = Phone(OwnerFactory()).get(f"appliances/{appliances[0].number}/components/").json()["components"]
    assert (told["hazard_low"], told["hazard_high"]) == (prompt.hazard_low, prompt.hazard_high)
