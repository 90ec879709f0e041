"""A firm starts from its own spreadsheets: two files are enough, the whole set is linked."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from firm.models import Setting, User
from inventory.models import (
    ApplianceModel,
    AverageCost,
    CarryLevel,
    ComponentType,
    CountWanted,
    Movement,
    Part,
    Place,
    Stock,
)
from jobs.models import Address, Appliance, Charge, Customer, Earlier, Fitted, Job, Visit
from jobs.services.auditing import audit_all
from tests.firm_folder import START, WHOLE, take_in

pytestmark = pytest.mark.django_db


def test_appliances_and_parts_are_enough_to_start(tmp_path):
    outcome = take_in(tmp_path, START)
    assert outcome.counts == {"parts": 1, "appliances": 2}
    model = ApplianceModel.objects.get(key="Calder 24")
    assert (model.kind, model.from_trade_table) == ("gas-combi", True)
    assert model.holds.get(component__key="circulating-pump").count == 1
    assert list(Customer.objects.values_list("number", "name")) == [("Ines Holm", "Ines Holm")]
    assert Address.objects.count() == 1
    assert set(Appliance.objects.values_list("in_care_from", "entered_on")) == {(None, timezone.localdate())}


def test_a_model_that_is_made_takes_the_kind_that_its_appliance_names(tmp_path):
    appliances = "appliance,customer,address,post_area,model,kind\nA1,K,Street 1,X,Tank,Unvented Cylinder\n"
    take_in(tmp_path, START | {"appliances": appliances})
    assert ApplianceModel.objects.get(key="Tank").kind == "unvented-cylinder"
    assert ApplianceModel.objects.get(key="Tank").holds.exists()


def test_the_row_of_the_firm_replaces_that_of_the_trade_table(tmp_path):
    own = "component,name,hazards,approved_new_only,fitting_hours\ncirculating-pump,Our pump,mains,no,0.5\n"
    take_in(tmp_path, START | {"component_types": own})
    pump = ComponentType.objects.get(key="circulating-pump")
    assert (pump.name, pump.hazards, pump.from_trade_table) == ("Our pump", ["mains"], False)
    assert (pump.hours_low, pump.hours_usual, pump.prior_failures_per_100_years) == (None, Decimal("0.5"), None)
    assert ApplianceModel.objects.get().holds.filter(component=pump).exists()


def test_the_whole_set_is_linked(tmp_path):
    outcome = take_in(tmp_path, WHOLE)
    assert outcome.counts["visits"] == 4
    assert Setting.current().labour_cost == Decimal("31.5")
    assert Setting.current().call_out == 48
    assert Part.objects.get(number="V1").superseded_by.number == "V2"
    assert set(Part.objects.get(number="P2").covers.values_list("key", flat=True)) == {"pump", "seal"}
    assert Job.objects.get(number="J2").return_of.number == "J1"
    assert Job.objects.get(number="J1").words == "no heat upstairs"
    assert [row.key for row in Job.objects.get(number="J1").symptoms.all()] == ["no-hot-water-heating-ok"]
    assert Job.objects.get(number="J1").address.text == "3 Mill Row"
    appliance = Appliance.objects.get(number="A1")
    assert (appliance.installed_on, appliance.installed_precision) == (date(2015, 6, 1), "month")
    assert (appliance.serial, appliance.on_service, appliance.address.access_note) == ("0012", True, "Dog")
    assert Earlier.objects.get(component__key="seal").position == 2
    assert Charge.objects.filter(kind="labour").count() == 2
    assert Charge.objects.filter(kind="labour").first().vat == Decimal("18.05")


def test_engineers_become_users_who_cannot_sign_in_yet(tmp_path):
    take_in(tmp_path, WHOLE)
    asha = User.objects.get(name="Asha Rao")
    assert (asha.username, asha.is_engineer, asha.is_office, asha.has_usable_password()) == (
        "asha-rao",
        True,
        False,
        False,
    )
    assert Place.objects.get(key="van 1").engineer == asha
    both = Visit.objects.get(number="V3").engineers.values_list("engineer__name", "minutes")
    assert list(both) == [("Asha Rao", 30), ("Ben Lund", 45)]


def test_balances_equal_the_stock_file_and_the_audit_agrees(tmp_path):
    take_in(tmp_path, WHOLE)
    balances = {(row.place.key, row.part.number): row.on_hand for row in Stock.objects.all()}
    assert balances == {("store", "P1"): 4, ("van 1", "P1"): 1, ("van 1", "S1"): 12, ("van 1", "V2"): 0}
    pump = AverageCost.objects.get(part__number="P1")
    assert (pump.held, pump.unit_cost) == (5, Decimal("50.2"))
    assert CarryLevel.objects.get(place__key="store").level == 6
    assert audit_all() == []


def test_a_part_fitted_in_the_past_touches_no_balance_no_average_and_no_count(tmp_path):
    take_in(tmp_path, WHOLE)
    lines = Movement.objects.filter(reason=Movement.Reason.HISTORY)
    assert set(lines.values_list("source__kind", "destination__kind")) == {("before-the-book", "fitted")}
    assert not CountWanted.objects.exists()
    assert not AverageCost.objects.filter(part__number="V2", held__gt=0).exists()


def test_the_cost_of_a_part_fitted_in_the_past_is_as_written_else_the_price_of_that_day_else_the_stock_files(tmp_path):
    take_in(tmp_path, WHOLE)
    costs = {row.part.number: (row.unit_cost, row.cost) for row in Fitted.objects.all()}
    assert costs["P1"] == (48, 48)  # the price of 2021, not that of 2022
    assert costs["S1"] == (Decimal("1.234"), Decimal("2.47"))  # per piece of a pack of ten
    assert costs["V2"] == (Decimal("88.8"), Decimal("88.8"))
    assert Fitted.objects.get(part__number="S1").came_from.supplier.key == "North Depot"
    assert Fitted.objects.get(part__number="P1").charge_ex_vat == Decimal("96.5")


@pytest.mark.parametrize(("stock", "cost"), [("van 1,P9,1,7.5\n", Decimal("7.5")), ("", None)])
def test_without_a_price_the_stock_file_says_the_cost_else_it_is_unknown_and_never_nil(tmp_path, stock, cost):
    parts = WHOLE["parts"] + "P9,Odd part,pump,*,,,,,,\n"
    fitted = "visit,part,component,quantity,why\nV2,P9,pump,1,failed\n"
    files = WHOLE | {"parts": parts, "fitted": fitted, "stock": "place,part,quantity,unit_cost\n" + stock}
    take_in(tmp_path, files)
    assert [(row.unit_cost, row.cost) for row in Fitted.objects.all()] == [(cost, cost)]


def test_what_surprises_is_taken_as_written_and_told(tmp_path):
    fitted = "visit,part,component,quantity,why\nV2,P1,valve,1,failed\nV4,V2,valve,1,planned\n"
    outcome = take_in(tmp_path, WHOLE | {"fitted": fitted})
    assert [(one.row, one.value) for one in outcome.warnings] == [(2, "valve"), (3, "valve")]
    assert Fitted.objects.count() == 2


def test_check_writes_nothing(tmp_path):
    take_in(tmp_path, WHOLE, check_only=True)
    assert not Part.objects.exists()
    assert not ComponentType.objects.exists()
    assert not Setting.objects.exists()
