"""A small invented firm for tests of pages: one store, two vans, one combi with a fault, parts on board and off."""

import datetime
from types import SimpleNamespace

from django.utils import timezone

from firm.models import VatRate
from inventory.models import CarryLevel, Caution, ModelComponent
from jobs.models import Cause, NoPartCause, Symptom
from tests import factories as make


def small_firm():
    """Everything a page may want, by name."""
    today = timezone.localdate()
    firm = SimpleNamespace(today=today)
    firm.office, firm.owner = make.OfficeFactory(), make.OwnerFactory()
    firm.engineer, firm.other = make.UserFactory(name="Asha"), make.UserFactory(name="Bram")
    firm.store = make.StoreFactory(key="store")
    firm.van = make.PlaceFactory(key="van 1", engineer=firm.engineer, post_areas=["MB1"])
    firm.van2 = make.PlaceFactory(key="van 2", engineer=firm.other)
    firm.pump = make.ComponentTypeFactory(
        key="pump", name="Circulating pump", hazards=["mains"], after_fitting=["No drip"]
    )
    firm.valve = make.ComponentTypeFactory(
        key="gas-valve",
        name="Gas valve",
        hazards=["gas"],
        approved_new_only=True,
        approved_reason="It shuts the gas off.",
    )
    firm.model = make.ApplianceModelFactory(key="Beck 24", name="Beck 24")
    for component in (firm.pump, firm.valve):
        ModelComponent.objects.create(model=firm.model, component=component)
    firm.part = _part(firm, firm.pump, number="104233", description="Circulating pump, Beck")
    firm.gas = _part(firm, firm.valve, number="104300", description="Gas valve, Beck")
    firm.copy = _part(firm, firm.valve, number="104301", description="Gas valve, rebuilt", grade="reconditioned")
    firm.supplier = make.SupplierFactory(name="Dunmere Supplies")
    firm.offer = make.OfferFactory(supplier=firm.supplier, part=firm.part, supplier_part="D1")
    make.PriceFactory(offer=firm.offer)
    VatRate.objects.create(name="standard", per_cent=20, valid_from=datetime.date(2020, 1, 1))
    make.put(firm.part, firm.van, 1)
    make.put(firm.part, firm.store, 3)
    CarryLevel.objects.create(place=firm.van, part=firm.part, level=2)
    _trade(firm)
    firm.appliance = make.ApplianceFactory(
        model=firm.model, installed_on=datetime.date(2015, 6, 1), installed_precision="day"
    )
    firm.job = make.JobFactory(appliance=firm.appliance, reported_on=today, words="Radiators cold")
    firm.job.symptoms.add(firm.symptom)
    firm.visit = make.VisitFactory(
        job=firm.job, on=today, time=datetime.time(10, 30), place=firm.van, engineer=firm.engineer
    )
    return firm


def _part(firm, component, **fields):
    part = make.PartFactory(fits_any=False, **fields)
    part.covers.add(component)
    part.fits.add(firm.model)
    return part


def _trade(firm):
    firm.symptom = Symptom.objects.create(
        key="no-heat", customer_words=["radiators stay cold"], ask=["Are all cold?"], safe_checks=["Read the gauge."]
    )
    Symptom.objects.create(key="smell", customer_words=["smells of gas"], stop="Everyone out, then ring from outside.")
    Cause.objects.create(symptom=firm.symptom, no_part=NoPartCause.CLOSED_VALVE, share="0.4", quick_test="Lever open?")
    Cause.objects.create(symptom=firm.symptom, component=firm.pump, share="0.6", kinds=["gas-combi"])
    for hazard, title in (("gas", "Gas: leak"), ("combustion", "Combustion"), ("mains", "Mains electricity")):
        Caution.objects.create(
            hazard=hazard, title=title, cautions=[f"Mind the {hazard}."], licence="A licensed person."
        )


def more_of_everything(firm, times):
    """More rows of each kind that a list shows."""
    for n in range(times):
        part = _part(firm, firm.pump, number=f"2{n:05d}", description=f"Pump {n}")
        offer = make.OfferFactory(supplier=firm.supplier, part=part)
        make.PriceFactory(offer=offer, price_ex_vat=40)
        make.PriceFactory(offer=offer, price_ex_vat=44 + n, valid_from=firm.today)
        make.put(part, firm.van, 1)
        make.put(part, firm.store, 2)
        CarryLevel.objects.create(place=firm.van, part=part, level=2)
        CarryLevel.objects.create(place=firm.store, part=part, level=3)
        appliance = make.ApplianceFactory(model=firm.model, address=firm.appliance.address)
        job = make.JobFactory(appliance=appliance, reported_on=firm.today)
        job.symptoms.add(firm.symptom)
        make.VisitFactory(job=job, on=firm.today, place=firm.van, engineer=firm.engineer)
        make.JobFactory(appliance=appliance, reported_on=firm.today).symptoms.add(firm.symptom)
