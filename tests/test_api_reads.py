import datetime
import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from firm.models import Setting
from inventory.models import CarryLevel, CountWanted, VanUse
from jobs.models import LoadProposal
from tests.api_phone import Firm, Phone
from tests.factories import (
    ApplianceFactory,
    ComponentTypeFactory,
    JobFactory,
    OfferFactory,
    OfficeFactory,
    PartFactory,
    PriceFactory,
    UserFactory,
    VisitFactory,
    put,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    return Firm()


def rows(answer):
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def visits(firm, **asked):
    return {row["visit"] for row in rows(firm.phone.get("visits/", **asked))}


def test_visits_are_found_by_day_engineer_and_whether_they_are_still_booked(firm):
    ben = UserFactory(name="Ben")
    VisitFactory(number="later", on="2026-11-10", engineer=ben, outcome="fixed")
    assert visits(firm) == {"104233", "later"}
    assert visits(firm, day="2026-11-03") == {"104233"}
    assert visits(firm, **{"from": "2026-11-04", "to": "2026-11-30"}) == {"later"}
    assert visits(firm, engineer="me") == {"104233"}
    assert visits(firm, engineer="Ben") == {"later"}
    assert visits(firm, booked="yes") == {"104233"}
    assert visits(firm, booked="no") == {"later"}
    assert visits(firm, job="7001", place="van one") == {"104233"}


def test_a_visit_in_the_list_names_the_hazards_of_opening_its_appliance(firm):
    row = rows(firm.phone.get("visits/", day="2026-11-03"))[0]
    assert row["hazards"] == ["combustion", "gas", "mains"]
    assert "licensed" in row["licence"]
    assert row["appliance"]["address"].endswith("Marrowby")


def test_one_visit_shows_what_was_fitted_and_the_components_that_may_be_worked_on(firm):
    firm.phone.post("fitted/", firm.fitted())
    shown = firm.phone.get("visits/104233/").json()
    assert [row["part"] for row in shown["fitted"]] == ["PMP-3"]
    assert {row["component"] for row in shown["components"]} == {"circulating-pump", "gas-valve"}
    valve = next(row for row in shown["components"] if row["component"] == "gas-valve")
    assert (valve["approved_new_only"], valve["after_fitting"]) == (True, ["tightness test"])
    assert "pressurised-hot-water" in shown["warnings"]["hazards"]
    assert all(caution["cautions"] and caution["licence"] for caution in shown["warnings"]["cautions"])


def test_a_number_with_strokes_and_blanks_is_an_address_too(firm):
    VisitFactory(number="2026/11 b")
    assert firm.phone.get("visits/2026/11 b/").json()["visit"] == "2026/11 b"


def test_an_engineer_sees_no_cost_prices_until_the_office_allows_it(firm):
    PriceFactory(offer=OfferFactory(part=firm.part, supplier=firm.supplier), price_ex_vat="41.20")
    firm.phone.post("fitted/", firm.fitted())
    office = Phone(OfficeFactory())

    def seen(phone):
        merchant = phone.get("parts/PMP-3/where/").json()["merchants"][0]["price_per_piece"]
        return merchant, phone.get("visits/104233/").json()["fitted"][0]["unit_cost"]

    assert seen(firm.phone) == (None, None)
    assert seen(office) == (41.2, 10.0)
    assert firm.phone.get("jobs/7001/").json()["money"] is None
    assert office.get("jobs/7001/").json()["money"]["parts_cost"] == 10.0
    Setting.objects.update_or_create(pk=1, defaults={"cost_prices_on_phones": True})
    assert seen(firm.phone) == (41.2, 10.0)


def test_jobs_are_found_by_kind_appliance_and_when_they_were_reported(firm):
    JobFactory(number="8001", kind="service", reported_on="2026-10-01", closed_on="2026-10-02")
    assert {row["job"] for row in rows(firm.phone.get("jobs/"))} == {"7001", "8001"}
    assert [row["job"] for row in rows(firm.phone.get("jobs/", kind="service"))] == ["8001"]
    assert [row["job"] for row in rows(firm.phone.get("jobs/", appliance="W-1"))] == ["7001"]
    assert [row["job"] for row in rows(firm.phone.get("jobs/", open="yes"))] == ["7001"]
    assert [row["job"] for row in rows(firm.phone.get("jobs/", **{"from": "2026-11-01"}))] == ["7001"]
    assert firm.phone.get("jobs/7001/").json()["charges"] == []


def test_appliances_are_found_by_number_name_and_address(firm):
    assert rows(firm.phone.get("appliances/", search="W-1 okafor"))[0]["appliance"] == "W-1"
    assert rows(firm.phone.get("appliances/", search="nobody")) == []
    assert firm.phone.get("appliances/W-1/").json()["model"] == "calder-24"


def test_the_stock_of_a_van_says_what_is_free_and_what_it_should_hold(firm):
    CarryLevel.objects.create(place=firm.van, part=firm.part, level=3)
    CountWanted.objects.create(place=firm.van, part=firm.part, why="test")
    row = rows(firm.phone.get("places/van one/stock/"))[0]
    assert (row["part"], row["on_hand"], row["free"], row["carry_level"]) == ("PMP-3", 2.0, 2.0, 3)
    assert row["count_wanted"] is True
    assert rows(firm.phone.get("places/van one/stock/", there="no")) == []
    assert firm.phone.get("places/(before-the-book)/stock/").status_code == 404


def test_places_are_the_store_and_the_vans_and_mine_is_the_van_that_i_drive_today(firm):
    assert [row["place"] for row in rows(firm.phone.get("places/"))] == ["store", "van one", "van two"]
    assert [row["place"] for row in rows(firm.phone.get("places/", mine="yes"))] == ["van one"]
    VanUse.objects.create(van=firm.other_van, engineer=firm.engineer, since="2020-01-01")
    assert [row["place"] for row in rows(firm.phone.get("places/", mine="yes"))] == ["van two"]


def test_where_a_part_is_and_who_sells_it(firm):
    put(firm.part, firm.store, 5)
    PriceFactory(offer=OfferFactory(part=firm.part, supplier=firm.supplier))
    shown = firm.phone.get("parts/PMP-3/where/").json()
    assert [(row["place"], row["free"], row["mine"]) for row in shown["places"]] == [
        ("store", 5.0, False),
        ("van one", 2.0, True),
    ]
    assert [row["supplier"] for row in shown["merchants"]] == ["dunmere"]
    assert firm.phone.get("parts/none/where/").status_code == 404


def test_a_superseded_number_names_its_living_successor(firm):
    old = PartFactory(number="PMP-1", superseded_by=firm.part)
    assert firm.phone.get("parts/PMP-1/where/").json()["living"] == "PMP-3"
    assert firm.phone.get(f"parts/{old.number}/").json()["superseded_by"] == "PMP-3"


def parts(firm, **asked):
    return {row["part"] for row in rows(firm.phone.get("parts/", **asked))}


def test_parts_are_found_by_words_model_and_component(firm):
    elsewhere = PartFactory(number="OIL-1", description="Oil nozzle", fits_any=False)
    assert parts(firm, search="pump") == {"PMP-3"}
    assert parts(firm, component="circulating-pump") == {"PMP-3"}
    assert parts(firm, fits="calder-24") == {"PMP-3", "GV-COPY"}
    elsewhere.fits.add(firm.model)
    assert "OIL-1" in parts(firm, fits="calder-24")
    row = rows(firm.phone.get("parts/", search="PMP-3", fits="calder-24"))[0]
    assert row["on_hand"] == 2.0
    assert set(row["warnings"]["hazards"]) == {"gas", "combustion", "mains", "pressurised-hot-water"}


def test_a_copy_is_never_offered_for_a_component_that_demands_approved_parts(firm):
    new = PartFactory(number="GV-1")
    new.covers.add(firm.valve)
    assert parts(firm, component="gas-valve") == {"GV-1"}
    assert firm.phone.get("parts/GV-COPY/").json()["not_advised"]
    assert firm.phone.get("parts/GV-1/").json()["not_advised"] == ""


def test_components_carry_their_cautions_and_the_checks_after_fitting(firm):
    shown = {row["component"]: row for row in rows(firm.phone.get("components/"))}
    warnings = shown["gas-valve"]["warnings"]
    assert {caution["hazard"] for caution in warnings["cautions"]} == {"gas", "combustion"}
    assert (warnings["approved_new_only"], warnings["approved_reason"]) == (True, "It shuts off the gas.")


def test_loads_show_lines_and_reasons_and_their_money_only_to_those_who_see_it(firm):
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=datetime.date(2026, 11, 2))
    proposal.lines.create(part=firm.part, now=1, proposed=2, price=48, gain_per_year=Decimal("263.10"), reason="£263")
    hidden = rows(firm.phone.get("loads/", van="van one"))[0]["lines"][0]
    assert (hidden["proposed"], hidden["price"], hidden["reason"]) == (2, None, None)
    shown = rows(Phone(OfficeFactory()).get("loads/", accepted="no"))[0]["lines"][0]
    assert (shown["price"], shown["gain_per_year"], shown["reason"]) == (48.0, 263.1, "£263")


def test_suppliers_are_listed_for_the_counter(firm):
    assert [row["supplier"] for row in rows(firm.phone.get("suppliers/"))] == ["dunmere"]


LISTS = ["visits/", "jobs/", "appliances/", "parts/", "places/", "places/van one/stock/", "components/", "loads/"]


@pytest.mark.parametrize("path", [*LISTS, "suppliers/"])
def test_a_list_costs_the_same_number_of_queries_however_long_it_is(firm, path):
    def cost():
        with CaptureQueriesContext(connection) as asked:
            found = rows(firm.phone.get(path))
        return len(asked), len(found)

    _grow(firm, 1)
    firm.phone.get(path)
    few, short = cost()
    _grow(firm, 6)
    many, long = cost()
    assert long > short
    assert many == few


def _grow(firm, times):
    for _ in range(times):
        appliance = ApplianceFactory()
        appliance.model.holds.create(component=firm.pump)
        visit = VisitFactory(job=JobFactory(appliance=appliance), engineer=UserFactory())
        part = PartFactory(fits_any=False)
        part.covers.add(firm.pump)
        part.fits.add(appliance.model)
        put(part, firm.van, 1)
        put(part, visit.place, 1)
        OfferFactory(part=part)
        proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=visit.place, as_of=visit.on)
        proposal.lines.create(part=part, now=0, proposed=1)
        ComponentTypeFactory()


@pytest.mark.parametrize("path", LISTS)
def test_pages_follow_one_another_to_the_end_without_gap_or_repetition(firm, path):
    _grow(firm, 4)
    whole = rows(firm.phone.get(path))
    seen, address = [], f"/api/v1/{path}?page_size=2"
    while address:
        page = firm.phone.client.get(address, headers=firm.phone.headers).json()
        assert len(page["results"]) <= 2
        seen += page["results"]
        address = page["next"]
    assert seen == whole


@pytest.mark.parametrize("path", [*LISTS, "visits/104233/", "parts/PMP-3/where/", "suppliers/", "components/"])
def test_reading_needs_a_token_and_a_role(firm, path):
    assert firm.phone.client.get(f"/api/v1/{path}").status_code == 401
    assert Phone(UserFactory(is_engineer=False)).get(path).status_code == 403
    assert Phone(OfficeFactory()).get(path).status_code == 200


def test_no_cache_keeps_what_holds_names_and_addresses(firm):
    assert firm.phone.get("visits/")["cache-control"] == "no-store"
