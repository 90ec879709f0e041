"""Every error of the API as an RFC 9457 problem document, with `field` and `row` where there is one."""

import logging
from http import HTTPStatus

from django.core.exceptions import RequestDataTooBig
from django.db import DataError, IntegrityError, OperationalError
from django.http import JsonResponse
from django.views import defaults
from rest_framework import exceptions, status
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import exception_handler

from firm.sending import SentBefore

PROBLEM = "application/problem+json"
RETRY_AFTER_SECONDS = 3
PASSING = ("08", "40", "53", "55", "57")  # PostgreSQL: connection, deadlock, no room, lock not had, shutting down
log = logging.getLogger(__name__)


class StrictJSONRenderer(JSONRenderer):
    """JSON without NaN, for whoever asked and for no cache: it holds people's names and addresses."""

    strict = True

    def render(self, data, accepted_media_type=None, renderer_context=None):
        if renderer_context and "response" in renderer_context:
            renderer_context["response"]["Cache-Control"] = "no-store"
        return super().render(data, accepted_media_type, renderer_context)


class Conflict(exceptions.APIException):
    status_code = status.HTTP_409_CONFLICT
    default_detail = "The same id was sent before with other content; nothing was changed."


class Busy(exceptions.APIException):
    status_code = status.HTTP_503_SERVICE_UNAVAILABLE
    default_detail = "The book is being written to just now; nothing was changed. Send it again in a moment."
    wait = RETRY_AFTER_SECONDS


class TooLarge(exceptions.APIException):
    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = "More was sent than we take at once; send it in parts."


def problem(error, context):
    """The exception handler of the API. None for what is our own mistake: Django answers that with 500."""
    error = as_answer(error)
    response = exception_handler(error, context)
    if response is None:
        return None
    headers = {name: value for name, value in response.headers.items() if name.lower() != "content-type"}
    body = describe(response.data, response.status_code)
    return Response(body, status=response.status_code, headers=headers, content_type=PROBLEM)


def as_answer(error):
    """What Django or the database says of a request, as the answer that its sender should get."""
    if isinstance(error, SentBefore):
        return Conflict()
    if isinstance(error, RequestDataTooBig):
        return TooLarge()
    if isinstance(error, OperationalError) and passes(error):
        return Busy()
    if isinstance(error, DataError):
        return exceptions.ValidationError("Something in it cannot be stored: a number too large, or a forbidden sign.")
    if isinstance(error, IntegrityError):
        log.warning("refused by the database: %s", error)
        return Conflict("It contradicts what stands in the book already; nothing was changed.")
    return error


def passes(error):
    """Whether this database error goes away by itself: somebody else was writing."""
    code = getattr(error.__cause__, "sqlstate", None)
    if code:
        return code.startswith(PASSING)
    return any(word in str(error) for word in ("locked", "busy", "connection"))


def describe(data, code):
    """The problem document for what REST framework says is wrong."""
    field, row, detail = _first(data)
    body = {"type": "about:blank", "title": HTTPStatus(code).phrase, "status": code, "detail": harmless(detail)}
    if field:
        body["field"] = harmless(field)
    if row:
        body["row"] = row
    return body


def harmless(text):
    """Text that every database and every reader can hold: no NUL, no halves of characters."""
    return str(text).replace("\0", "�").encode("utf-8", "replace").decode("utf-8")


def _first(data, field="", row=None):
    """The first thing that is wrong: (field, row, detail). A row counts from 1."""
    if isinstance(data, dict):
        if set(data) == {"detail"}:
            return field, row, data["detail"]
        for name, value in data.items():
            if value and isinstance(name, int):
                return _first(value, field, name + 1)
            if value:
                return _first(value, field if name == "non_field_errors" else str(name), row)
    if isinstance(data, list):
        for place, value in enumerate(data):
            if isinstance(value, dict | list) and value:
                return _first(value, field, place + 1)
            if value:
                return field, row, value
    return field, row, data


def answer(code, detail, **headers):
    """A problem document from outside REST framework."""
    return JsonResponse(describe({"detail": detail}, code), status=code, content_type=PROBLEM, headers=headers)


def of_api(request):
    return request.path.startswith("/api/")


def not_found(request, exception):
    if of_api(request):
        return answer(404, "There is nothing at this address.")
    return defaults.page_not_found(request, exception)


def server_error(request):
    if of_api(request):
        return answer(500, "We made a mistake; nothing was changed. It stands in our log.")
    return defaults.server_error(request)


def bad_request(request, exception):
    if of_api(request):
        return answer(400, "The request is not one that we can read.")
    return defaults.bad_request(request, exception)
