"""Imported again: the same files change nothing, a known row is updated, what is booked is not."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import ApplianceModel as Model
from inventory.models import AverageCost, CarryLevel, Count, Movement, Price, Stock
from jobs.models import Address, Appliance, Charge, Customer, Finding, Fitted, Job, Visit
from jobs.services.auditing import audit_all
from tests.firm_folder import START, WHOLE, dump, faults, take_in

pytestmark = pytest.mark.django_db


def again(tmp_path, **files):
    """The whole firm imported, and then once more with one text replaced in each named file."""
    take_in(tmp_path / "first", WHOLE)
    changed = {name: WHOLE[name].replace(old, new, 1) for name, (old, new) in files.items()}
    assert all(changed[name] != WHOLE[name] for name in changed)
    take_in(tmp_path / "second", WHOLE | changed)


@pytest.mark.parametrize("files", [START, WHOLE])
def test_the_same_files_twice_change_nothing(tmp_path, files):
    take_in(tmp_path, files)
    before = dump()
    take_in(tmp_path, files)
    assert dump() == before


def test_a_known_row_with_other_content_is_updated(tmp_path):
    again(
        tmp_path,
        customers=("Ines Holm", "Ines Lund"),
        appliances=("A1,K1,3 Mill Row,HV1,C24,2019-03-01", "A1,K1,4 Mill Row,HV1,C24,2019-04-01"),
        appliance_models=("pump;valve;seal*2", "pump;valve;seal*3"),
        jobs=("J3,A2,service,2022-05-02", "J3,A2,planned,2022-05-01"),
        visits=("V1,J1,Asha Rao", "V1,J1,Ben Lund"),
        earlier=("A1,pump,,2017", "A1,pump,,2017-02"),
        settings=("call-out,48", "call-out,50"),
    )
    assert Customer.objects.get(number="K1").name == "Ines Lund"
    assert Appliance.objects.get(number="A1").in_care_from == date(2019, 4, 1)
    assert Appliance.objects.get(number="A1").address.text == "4 Mill Row"
    assert Job.objects.get(number="J1").address.text == "4 Mill Row"
    assert Model.objects.get(key="C24").holds.get(component__key="seal").count == 3
    assert (Job.objects.get(number="J3").kind, Job.objects.count()) == ("planned", 3)
    assert Visit.objects.get(number="V1").engineers.get().engineer.name == "Ben Lund"
    assert Address.objects.count() == 2
    assert Fitted.objects.count() == 3


def test_an_emptied_cell_is_updated_and_a_missing_column_says_nothing(tmp_path):
    again(tmp_path, appliances=("Dog\n", "\n"))
    assert Address.objects.get(text="3 Mill Row").access_note == ""
    shorter = "appliance,customer,address,post_area,model\nA1,K1,3 Mill Row,HV1,C24\n"
    take_in(tmp_path / "third", {"appliances": shorter})
    assert Appliance.objects.get(number="A1").serial == "0012"
    assert Appliance.objects.get(number="A1").in_care_from == date(2019, 3, 1)


def test_rows_missing_from_a_file_are_left_alone_and_some_files_are_enough(tmp_path):
    take_in(tmp_path / "first", WHOLE)
    job = "job,appliance,kind,reported_on,return_of\nJ4,A1,breakdown,2023-01-05,J2\n"
    visit = "visit,job,engineer,place,on,outcome\nV5,J4,Asha Rao,van 1,2023-01-06,fixed\n"
    fitted = "visit,part,component,quantity,why\nV5,P2,pump,1,failed\n"
    take_in(tmp_path / "second", {"jobs": job, "visits": visit, "fitted": fitted})
    assert (Job.objects.count(), Visit.objects.count(), Fitted.objects.count()) == (4, 5, 4)
    assert Job.objects.get(number="J4").return_of.number == "J2"
    assert audit_all() == []


def test_of_equal_rows_without_a_number_only_the_further_one_is_new(tmp_path):
    more = ("90.25,1.5,20,Two visits\n", "90.25,1.5,20,Two visits\nJ1,labour,90.25,1.5,20,Two visits\n")
    again(tmp_path, charges=more, findings=("V1,,pump,1,,no output", "V1,A1,pump,1,,no output"))
    assert Charge.objects.filter(kind="labour").count() == 3
    assert Finding.objects.count() == 2


@pytest.mark.parametrize(
    ("old", "new", "column", "value"),
    [
        ("V2,P1,pump,1,failed", "V2,P1,pump,2,failed", "quantity", "2"),
        ("V2,P1,pump,1,failed", "V2,P1,pump,1,planned", "why", "planned"),
        ("V2,P1,pump,1,failed,,1,,96.50,", "V2,P1,pump,1,failed,,1,47,96.50,", "unit_cost", "47"),
        ("96.50,", "99,", "charge_ex_vat", "99"),
        ("96.50,", "96.50,store", "from", "store"),
    ],
)
def test_a_fitted_part_that_is_booked_is_never_changed_by_a_file(tmp_path, old, new, column, value):
    take_in(tmp_path / "first", WHOLE)
    before = dump()
    found = faults(tmp_path / "second", WHOLE | {"fitted": WHOLE["fitted"].replace(old, new)})
    assert [one[:4] for one in found] == [("fitted", 2, column, value)]
    assert "booked for the visit with other content" in found[0][4]
    assert dump() == before


def test_a_price_that_is_booked_is_never_changed_by_a_file_and_a_new_day_is_a_new_price(tmp_path):
    take_in(tmp_path / "first", WHOLE)
    found = faults(tmp_path / "second", WHOLE | {"prices": WHOLE["prices"].replace("48.00", "49")})
    assert [one[:4] for one in found] == [("prices", 2, "price_ex_vat", "49")]
    take_in(tmp_path / "third", {"prices": WHOLE["prices"].replace("2022-01-01", "2023-01-01")})
    assert Price.objects.filter(offer__part__number="P1").count() == 3


def test_what_was_reported_on_a_visit_is_not_taken_away_by_the_file_that_booked_it(tmp_path):
    booked = WHOLE | {"visits": WHOLE["visits"].replace("part needed,08:30,40", ",08:30,")}
    take_in(tmp_path / "first", booked)
    visit = Visit.objects.get(number="V1")
    visit.outcome = "made-safe"
    visit.save()
    visit.engineers.update(minutes=25)
    before = dump()
    take_in(tmp_path / "second", booked)
    assert dump() == before


def test_a_stock_file_is_applied_once_and_a_changed_one_is_a_new_count(tmp_path):
    take_in(tmp_path / "first", WHOLE)
    changed = WHOLE["stock"].replace("van 1,S1,12,1.3,", "van 1,S1,9,1.3,3") + "store,S1,5,1.1,\n"
    take_in(tmp_path / "second", {"stock": changed})
    balances = {(row.place.key, row.part.number): row.on_hand for row in Stock.objects.all()}
    assert balances[("van 1", "S1")] == 9
    assert balances[("store", "S1")] == 5
    assert balances[("store", "P1")] == 4
    assert Movement.objects.get(reason=Movement.Reason.COUNTED).quantity == 3
    assert Count.objects.get(place__key="van 1").lines.count() == 3
    assert CarryLevel.objects.get(part__number="S1").level == 3
    assert AverageCost.objects.get(part__number="S1").unit_cost == Decimal("1.2412")  # (12 × 1.3 + 5 × 1.1) ÷ 17
    assert audit_all() == []
    before = dump()
    for name in ("first", "second"):
        take_in(tmp_path / name, {})
    assert dump() == before


def test_two_appliances_at_one_address_share_it_and_a_changed_note_changes_it(tmp_path):
    header = "appliance,customer,address,post_area,model,access_note\n"
    rows = header + "A1,K,3 Mill Row,X,M,Dog\nA2,K,3 Mill Row,X,M,Dog\n"
    take_in(tmp_path / "first", START | {"appliances": rows})
    take_in(tmp_path / "second", START | {"appliances": rows.replace("Dog", "Cat")})
    assert list(Address.objects.values_list("text", "access_note")) == [("3 Mill Row", "Cat")]
    take_in(tmp_path / "third", START | {"appliances": header + "A2,K,3 Mill Row,X,M,Ring twice\n"})
    assert Appliance.objects.get(number="A1").address.access_note == "Cat"
    assert Appliance.objects.get(number="A2").address.access_note == "Ring twice"
