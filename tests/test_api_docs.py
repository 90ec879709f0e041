import pytest

from tests.factories import OfficeFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("who", [None, UserFactory, OfficeFactory])
def test_the_docs_are_a_page_of_ours_for_everybody(client, who):
    if who:
        client.force_login(who())
    answer = client.get("/api/docs/")
    assert answer.status_code == 200
    page = answer.content.decode()
    for address in ("/api/v1/fitted/", "/api/v1/sync/", "/api/v1/places/{place}/stock/"):
        assert address in page
    assert "needed" in page
    assert "one of failed, planned, recall, upgrade, had-to-come-off" in page


def test_the_docs_need_no_exception_from_the_content_security_policy(client):
    answer = client.get("/api/docs/")
    policy = answer["content-security-policy"]
    assert "unsafe" not in policy
    page = answer.content.decode()
    assert "style=" not in page
    assert "<style" not in page
    assert "//cdn" not in page


def test_the_docs_cost_no_query_for_the_schema(client, django_assert_max_num_queries):
    client.get("/api/docs/")
    with django_assert_max_num_queries(2):
        client.get("/api/docs/")
