import pytest
import schemathesis
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from firm.wsgi import application
from tests.api_phone import Firm

pytestmark = pytest.mark.django_db
served = schemathesis.openapi.from_wsgi("/api/schema/?format=json", application)


def test_the_schema_is_valid_openapi_3_without_a_warning(tmp_path):
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(tmp_path / "schema.yml"))
    assert (tmp_path / "schema.yml").read_text().startswith("openapi: 3.")


def test_the_schema_is_served(client):
    answer = client.get("/api/schema/")
    assert answer.status_code == 200
    assert "openapi" in answer["content-type"]


@pytest.mark.parametrize(
    "path",
    [
        "sign-in/",
        "visits/",
        "jobs/",
        "places/{place}/stock/",
        "parts/",
        "parts/{part}/where/",
        "lives/",
        "lives/sensitivity/",
        "lives/curves/",
        "spells/",
        "failures/",
        "forecasts/",
        "alarms/",
        "alarms/{code}/parts/",
        "appliances/{appliance}/components/",
        "loads/",
        "fitted/",
        "needed/",
        "bought/",
        "taken-out/",
        "outcomes/",
        "counts/",
        "passes/",
        "sync/",
    ],
)
def test_the_schema_names_every_address_of_the_contract(path):
    assert f"/api/v1/{path}" in described()["paths"]


def described():
    return SchemaGenerator().get_schema(request=None, public=True)


@pytest.mark.parametrize("kind", ["fitted", "bought", "counts", "passes"])
def test_what_is_sent_is_described_by_name(kind):
    schema = described()
    body = schema["paths"][f"/api/v1/{kind}/"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    shape = schema["components"]["schemas"][body["$ref"].rsplit("/", 1)[1]]
    assert "id" in shape["required"]
    assert set(shape["properties"]) >= {"id", "happened_at"}


@pytest.fixture
def phone():
    """Calls that go through WSGI itself must leave the test's own connection open."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield Firm().phone
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@served.include(path_regex="^/api/v1/").parametrize()
@settings(max_examples=8, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
def test_whatever_the_schema_allows_is_answered_as_it_says(case, phone):
    case.call_and_validate(
        headers=phone.headers,
        checks=[not_a_server_error, content_type_conformance, response_schema_conformance],
    )
