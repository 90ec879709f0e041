import json

import pytest
from django.core.cache import cache
from django.test import Client

from firm.models import Device
from tests.api_phone import Phone
from tests.factories import OfficeFactory, UserFactory

pytestmark = pytest.mark.django_db
PASSWORD = "a long enough pass phrase"


@pytest.fixture(autouse=True)
def _nobody_throttled():
    cache.clear()


@pytest.fixture
def asha():
    user = UserFactory(username="asha", name="Asha")
    user.set_password(PASSWORD)
    user.save()
    return user


def sign_in(**changes):
    body = {"username": "asha", "password": PASSWORD, "device": "Asha’s phone"} | changes
    return Client().post("/api/v1/sign-in/", json.dumps(body), content_type="application/json")


def test_name_and_password_give_a_token_that_opens_the_door(asha):
    token = sign_in().json()["token"]
    me = Client().get("/api/v1/me/", headers={"authorization": f"Bearer {token}"})
    assert me.status_code == 200
    assert me.json()["username"] == "asha"
    assert me.json()["roles"] == ["engineer"]


def test_the_token_itself_is_stored_nowhere(asha):
    token = sign_in().json()["token"]
    device = Device.objects.get()
    assert token.encode() not in bytes(device.digest)
    assert device.name == "Asha’s phone"


@pytest.mark.parametrize("wrong", [{"password": "not it"}, {"username": "nobody"}])
def test_a_wrong_name_or_password_is_a_401_that_does_not_say_which(asha, wrong):
    answer = sign_in(**wrong)
    assert answer.status_code == 401
    assert answer["content-type"] == "application/problem+json"
    assert answer["www-authenticate"] == "Bearer"
    assert answer.json()["detail"] == "The username or the password is wrong."


def test_a_missing_device_name_is_named(asha):
    assert sign_in(device=" ").json()["field"] == "device"


def test_too_many_wrong_passwords_shut_the_door_even_for_the_right_one(asha):
    answers = [sign_in(password=f"wrong {n}").status_code for n in range(8)]
    assert answers[0] == 401
    shut = sign_in()
    assert shut.status_code == 429
    assert shut["content-type"] == "application/problem+json"
    assert int(shut["retry-after"]) > 0


def test_sign_in_is_throttled(asha):
    codes = {sign_in(username=f"name {n}").status_code for n in range(25)}
    assert codes == {401, 429}


def test_claiming_other_addresses_does_not_get_round_the_throttle(asha):
    body = json.dumps({"username": "asha", "device": "x"})
    sent = [
        Client().post("/api/v1/sign-in/", body, "application/json", headers={"x-forwarded-for": f"192.0.2.{n}"})
        for n in range(22)
    ]
    assert sent[-1].status_code == 429


@pytest.mark.parametrize("header", ["Bearer", "Bearer a b", "Bearer " + "x" * 200, "Bearer wrong", "Basic eDp5"])
def test_no_token_no_answer(db, header):
    answer = Client().get("/api/v1/me/", headers={"authorization": header})
    assert answer.status_code == 401
    assert answer["content-type"] == "application/problem+json"
    assert answer.json()["status"] == 401


def test_a_phone_signed_out_is_not_let_in_again(asha):
    phone = Phone(asha)
    assert phone.post("sign-out/", "").status_code == 204
    assert phone.get("me/").status_code == 401


def test_an_expired_token_and_a_person_who_left_are_not_let_in(asha):
    expired, gone = Phone(asha), Phone(asha)
    Device.objects.filter(pk=expired.device.pk).update(expires_at="2026-01-01T00:00:00Z")
    assert expired.get("me/").status_code == 401
    assert gone.get("me/").status_code == 200
    asha.is_active = False
    asha.save()
    assert gone.get("me/").status_code == 401


def test_the_token_is_looked_up_in_one_query(asha, django_assert_num_queries):
    phone = Phone(asha)
    phone.get("me/")
    with django_assert_num_queries(3):  # the token; the setting, for the firm and for who sees cost prices
        phone.get("me/")


def test_one_ends_ones_own_phones_and_the_office_anybodys(asha):
    phone, other, office = Phone(asha), Phone(UserFactory()), Phone(OfficeFactory())
    assert [row["id"] for row in phone.get("devices/").json()] == [phone.device.pk]
    assert phone.delete(f"devices/{other.device.pk}/").status_code == 404
    assert office.delete(f"devices/{other.device.pk}/").status_code == 204
    assert other.get("me/").status_code == 401
