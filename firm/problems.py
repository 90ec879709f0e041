"""Errors as RFC 9457 problem documents, and JSON that is strict both ways."""

from rest_framework import exceptions, status
from rest_framework.parsers import JSONParser
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import exception_handler


class StrictJSONRenderer(JSONRenderer):
    strict = True


class StrictJSONParser(JSONParser):
    """JSON only; a body nested too deeply is a bad body, not a server error."""

    def parse(self, stream, media_type=None, parser_context=None):
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError as error:
            raise exceptions.ParseError("The JSON is nested too deeply.") from error


def problem(error, context):
    """The exception handler: a problem document with `field` where there is one."""
    response = exception_handler(error, context)
    if response is None:
        return None
    field, detail = _first(response.data)
    body = {"type": "about:blank", "title": response.status_text, "status": response.status_code, "detail": detail}
    if field:
        body["field"] = field
    headers = {name: value for name, value in response.headers.items() if name.lower() != "content-type"}
    return Response(body, status=response.status_code, headers=headers, content_type="application/problem+json")


def _first(data, path=""):
    """The first field that is wrong, as a dotted path, and what is wrong with it."""
    if isinstance(data, dict):
        if set(data) == {"detail"}:
            return path, str(data["detail"])
        for name, value in data.items():
            return _first(value, path if name == "non_field_errors" else f"{path}.{name}" if path else str(name))
    if isinstance(data, list):
        for place, value in enumerate(data):
            if value:
                inner = isinstance(value, dict | list)
                return _first(value, f"{path}.{place}" if inner else path)
    return path, str(data)


class Conflict(exceptions.APIException):
    status_code = status.HTTP_409_CONFLICT
    default_detail = "The same id was sent before with other content."
