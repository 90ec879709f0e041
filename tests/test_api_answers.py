"""Good answers are what the schema says that they are."""

import uuid

import jsonschema
import pytest
from drf_spectacular.generators import SchemaGenerator

from jobs.models import Finding, LoadProposal
from tests.api_phone import Firm, Phone, new_id
from tests.factories import OfferFactory, OfficeFactory, PriceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm():
    firm = Firm()
    firm.first = new_id()
    PriceFactory(offer=OfferFactory(part=firm.part, supplier=firm.supplier))
    Finding.objects.create(visit=firm.visit, appliance=firm.appliance, component=firm.pump)
    firm.job.charges.create(kind="labour", amount_ex_vat=64)
    proposal = LoadProposal.objects.create(event=uuid.uuid4(), van=firm.van, as_of=firm.visit.on)
    proposal.lines.create(part=firm.part, now=1, proposed=2, price=48)
    assert firm.phone.post("fitted/", firm.fitted(id=firm.first)).status_code == 201
    return firm


@pytest.fixture(scope="module")
def schema():
    made = SchemaGenerator().get_schema(request=None, public=True)
    return _nullable(made)


def _nullable(node):
    """OpenAPI 3.0 says `nullable` where JSON Schema has null among the types."""
    if isinstance(node, list):
        return [_nullable(inner) for inner in node]
    if not isinstance(node, dict):
        return node
    plain = {name: _nullable(inner) for name, inner in node.items() if name not in BOOLEAN_IN_3_0}
    return {"anyOf": [plain, {"type": "null"}]} if plain.pop("nullable", False) else plain


def fits(schema, method, path, answer):
    assert answer.status_code in {200, 201}, answer.content
    described = schema["paths"][f"/api/v1/{path}"][method]["responses"][str(answer.status_code)]
    shape = described["content"]["application/json"]["schema"]
    jsonschema.validate(answer.json(), shape | {"components": schema["components"]})


BOOLEAN_IN_3_0 = {"exclusiveMinimum", "exclusiveMaximum"}
READS = {
    "me/": "me/",
    "devices/": "devices/",
    "visits/": "visits/",
    "visits/{visit}/": "visits/104233/",
    "jobs/": "jobs/",
    "jobs/{job}/": "jobs/7001/",
    "appliances/": "appliances/",
    "appliances/{appliance}/": "appliances/W-1/",
    "components/": "components/",
    "parts/": "parts/",
    "parts/{part}/": "parts/PMP-3/",
    "parts/{part}/where/": "parts/PMP-3/where/",
    "places/": "places/",
    "places/{place}/stock/": "places/van one/stock/",
    "suppliers/": "suppliers/",
    "loads/": "loads/",
    "lives/": "lives/?curve=true",
    "lives/curves/": "lives/curves/?component=circulating-pump",
}


@pytest.mark.parametrize("path", READS)
def test_what_is_read(firm, schema, path):
    fits(schema, "get", path, firm.phone.get(READS[path]))
    fits(schema, "get", path, Phone(OfficeFactory()).get(READS[path]))


def test_what_is_written(firm, schema):
    sent = {
        "fitted/": firm.fitted(),
        "needed/": {"id": new_id(), "visit": "104233", "component": "gas-valve", "quantity": 1},
        "bought/": {"id": new_id(), "supplier": "dunmere", "part": "PMP-3", "quantity": 1, "job": "7001"},
        "taken-out/": {"id": new_id(), "fitted": firm.first, "condition": "new"},
        "outcomes/": {"id": new_id(), "visit": "104233", "outcome": "fixed"},
        "counts/": {"id": new_id(), "place": "van one", "lines": [{"part": "PMP-3", "quantity": 1}]},
        "passes/": {"id": new_id(), "from": "van one", "to": "van two", "part": "PMP-3", "quantity": 1},
        "sync/": {"events": [{"id": new_id(), "kind": "fitted", "body": firm.fitted(id=...)}, None]},
    }
    for path, body in sent.items():
        fits(schema, "post", path, firm.phone.post(path, body))
