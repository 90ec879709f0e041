"""Small records for tests. Everything in them is invented."""

import datetime
import uuid
from decimal import Decimal

import factory
from django.db import transaction
from factory.django import DjangoModelFactory

from firm.models import User
from inventory.models import ApplianceModel, ComponentType, Movement, Offer, Part, Place, Price, Supplier
from inventory.services import ledger
from inventory.services.places import counter
from jobs.models import Address, Appliance, Customer, Job, Visit, VisitEngineer


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    name = factory.Sequence(lambda n: f"Person {n}")
    is_engineer = True


class OfficeFactory(UserFactory):
    is_engineer = False
    is_office = True


class OwnerFactory(UserFactory):
    is_engineer = False
    is_owner = True


class ComponentTypeFactory(DjangoModelFactory):
    class Meta:
        model = ComponentType

    key = factory.Sequence(lambda n: f"component-{n}")
    name = factory.LazyAttribute(lambda c: c.key.replace("-", " ").capitalize())
    hazards = ["mains"]


class ApplianceModelFactory(DjangoModelFactory):
    class Meta:
        model = ApplianceModel

    key = factory.Sequence(lambda n: f"model-{n}")
    name = factory.LazyAttribute(lambda m: m.key.capitalize())
    maker = "Calderby"
    kind = "gas-combi"


class PartFactory(DjangoModelFactory):
    class Meta:
        model = Part
        skip_postgeneration_save = True

    number = factory.Sequence(lambda n: f"1{n:05d}")
    description = factory.Sequence(lambda n: f"Part {n}")
    fits_any = True


class PlaceFactory(DjangoModelFactory):
    class Meta:
        model = Place

    key = factory.Sequence(lambda n: f"van {n}")
    kind = Place.Kind.VAN


class StoreFactory(PlaceFactory):
    key = factory.Sequence(lambda n: f"store {n}")
    kind = Place.Kind.STORE


class SupplierFactory(DjangoModelFactory):
    class Meta:
        model = Supplier

    key = factory.Sequence(lambda n: f"supplier-{n}")
    name = factory.Sequence(lambda n: f"Dunmere Supplies {n}")
    lead_time_days = 2


class OfferFactory(DjangoModelFactory):
    class Meta:
        model = Offer

    supplier = factory.SubFactory(SupplierFactory)
    part = factory.SubFactory(PartFactory)
    supplier_part = factory.Sequence(lambda n: f"S{n}")


class PriceFactory(DjangoModelFactory):
    class Meta:
        model = Price

    offer = factory.SubFactory(OfferFactory)
    price_ex_vat = Decimal("48.00")
    pack = Decimal(1)
    valid_from = datetime.date(2020, 1, 1)
    price_per_piece = factory.LazyAttribute(lambda p: Price.per_piece(p.price_ex_vat, p.pack))


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = Customer

    number = factory.Sequence(lambda n: f"C{n}")
    name = factory.Sequence(lambda n: f"Mrs Okafor {n}")


class AddressFactory(DjangoModelFactory):
    class Meta:
        model = Address

    customer = factory.SubFactory(CustomerFactory)
    text = factory.Sequence(lambda n: f"{n} Weir Terrace, Marrowby")
    post_area = "MB1"


class ApplianceFactory(DjangoModelFactory):
    class Meta:
        model = Appliance

    number = factory.Sequence(lambda n: f"A{n}")
    address = factory.SubFactory(AddressFactory)
    customer = factory.SelfAttribute("address.customer")
    model = factory.SubFactory(ApplianceModelFactory)
    entered_on = datetime.date(2020, 1, 1)
    in_care_from = datetime.date(2020, 1, 1)


class JobFactory(DjangoModelFactory):
    class Meta:
        model = Job
        skip_postgeneration_save = True

    number = factory.Sequence(lambda n: f"job {n}")
    appliance = factory.SubFactory(ApplianceFactory)
    address = factory.SelfAttribute("appliance.address")
    kind = "breakdown"
    reported_on = datetime.date(2026, 11, 2)


class VisitFactory(DjangoModelFactory):
    class Meta:
        model = Visit
        skip_postgeneration_save = True

    number = factory.Sequence(lambda n: f"visit {n}")
    job = factory.SubFactory(JobFactory)
    on = datetime.date(2026, 11, 3)
    place = factory.SubFactory(PlaceFactory)

    @factory.post_generation
    def engineer(self, create, user, **kwargs):
        if create and user:
            VisitEngineer.objects.create(visit=self, engineer=user, **kwargs)


@transaction.atomic
def put(part, place, quantity, unit_cost="10.00", condition="new"):
    """Opening stock: `quantity` of `part` into `place` at `unit_cost`, through the ledger."""
    averages = ledger.lock([part])
    line = Movement(
        event=uuid.uuid4(),
        part=part,
        quantity=Decimal(quantity),
        source=counter(Place.Kind.BEFORE_THE_BOOK),
        destination=place,
        reason=Movement.Reason.STOCK_FILE,
        unit_cost=None if unit_cost is None else Decimal(unit_cost),
        condition=condition,
    )
    return ledger.book([line], averages)[0]
