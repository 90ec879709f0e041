"""A phone with a token, and a small firm for it to work in. Everything in it is invented."""

import json
import uuid
from dataclasses import dataclass, field
from decimal import Decimal

from django.test import Client

from firm import tokens
from inventory.models import Caution
from tests.factories import (
    ApplianceFactory,
    ApplianceModelFactory,
    ComponentTypeFactory,
    JobFactory,
    PartFactory,
    PlaceFactory,
    StoreFactory,
    SupplierFactory,
    UserFactory,
    VisitFactory,
    put,
)


class Phone:
    """Speaks to the API as one person."""

    def __init__(self, user, name="test phone"):
        self.user = user
        self.device, self.token = tokens.issue(user, name)
        self.client = Client(raise_request_exception=False)

    @property
    def headers(self):
        return {"authorization": f"Bearer {self.token}"}

    def get(self, path, **asked):
        return self.client.get(f"/api/v1/{path}", asked, headers=self.headers)

    def delete(self, path):
        return self.client.delete(f"/api/v1/{path}", headers=self.headers)

    def post(self, path, body, content_type="application/json"):
        raw = body if isinstance(body, str | bytes) else json.dumps(body)
        return self.client.post(f"/api/v1/{path}", raw, content_type=content_type, headers=self.headers)


def new_id():
    return str(uuid.uuid4())


@dataclass
class Firm:
    """Asha drives van one, in which two pumps lie, and visits an appliance with a pump and a gas valve."""

    engineer: object = field(default_factory=lambda: UserFactory(name="Asha", username="asha"))

    def __post_init__(self):
        self.van = PlaceFactory(key="van one", engineer=self.engineer)
        self.other_van = PlaceFactory(key="van two")
        self.store = StoreFactory(key="store")
        self.supplier = SupplierFactory(key="dunmere")
        self.pump = ComponentTypeFactory(key="circulating-pump", hazards=["mains", "pressurised-hot-water"])
        self.valve = ComponentTypeFactory(
            key="gas-valve",
            hazards=["gas", "combustion"],
            approved_new_only=True,
            approved_reason="It shuts off the gas.",
            after_fitting=["tightness test"],
        )
        for hazard in ("gas", "combustion", "mains", "pressurised-hot-water"):
            Caution.objects.get_or_create(
                hazard=hazard, defaults={"title": hazard, "cautions": [f"Mind the {hazard}."], "licence": "Licensed."}
            )
        self.model = ApplianceModelFactory(key="calder-24", kind="gas-combi")
        for component in (self.pump, self.valve):
            self.model.holds.create(component=component)
        self.part = PartFactory(number="PMP-3", description="Pump head")
        self.part.covers.add(self.pump)
        self.copy = PartFactory(number="GV-COPY", description="Gas valve copy", grade="unapproved-copy")
        self.copy.covers.add(self.valve)
        self.appliance = ApplianceFactory(number="W-1", model=self.model)
        self.job = JobFactory(number="7001", appliance=self.appliance)
        self.visit = VisitFactory(number="104233", job=self.job, place=self.van, engineer=self.engineer)
        put(self.part, self.van, 2)
        self.phone = Phone(self.engineer)

    def fitted(self, **changes):
        body = {
            "id": new_id(),
            "visit": "104233",
            "part": "PMP-3",
            "component": "circulating-pump",
            "quantity": 1,
            "why": "failed",
        }
        return {name: value for name, value in (body | changes).items() if value is not ...}

    def on_hand(self, place=None):
        stock = self.part.stock.filter(place=place or self.van)
        return sum((row.on_hand for row in stock), Decimal(0))
