"""A small firm for the owner's pages: one component type in appliances of one model, and failures at given ages."""

import datetime

from django.utils import timezone

from inventory.models import ModelComponent
from jobs.models import Finding
from tests.factories import ApplianceFactory, ApplianceModelFactory, ComponentTypeFactory, JobFactory, VisitFactory

WEARING = [2, 4, 5, 6, 7, 8, 8.5, 9, 9.5, 10.0]  # ages that leave no doubt about wear


def owner_firm(appliances=12, *, key="pump", hazards=("mains",), care_after_days=0, **component):
    """(component type, appliances) installed 4,000 days ago, all in care and on no service."""
    component = ComponentTypeFactory(key=key, name=key.capitalize(), hazards=list(hazards), **component)
    model = ApplianceModelFactory()
    ModelComponent.objects.create(model=model, component=component)
    today = timezone.localdate()
    start = today - datetime.timedelta(days=4000)
    made = [
        ApplianceFactory(
            model=model, installed_on=start, installed_precision="day", on_service=False, entered_on=start,
            in_care_from=start + datetime.timedelta(days=care_after_days),
        )
        for _ in range(appliances)
    ]  # fmt: skip
    for appliance in made:  # a contact of today keeps each in care
        JobFactory(appliance=appliance, kind="service", reported_on=today)
    return component, made


def fails(component, appliance, years):
    """A failure repaired in place, at an age of the appliance."""
    day = appliance.installed_on + datetime.timedelta(days=round(years * 365.25))
    visit = VisitFactory(
        job=JobFactory(appliance=appliance, kind="breakdown", reported_on=day), on=day, outcome="fixed"
    )
    return Finding.objects.create(visit=visit, appliance=appliance, component=component)


def worn(component, appliances):
    for appliance, age in zip(appliances, WEARING, strict=False):
        fails(component, appliance, age)
