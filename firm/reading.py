"""JSON that is strict on its way in: no repeated names, no endless depth, no NaN, decimals exact."""

import json
from decimal import Decimal, InvalidOperation

from rest_framework import exceptions
from rest_framework.parsers import JSONParser

DEEPEST = 16


class StrictJSONParser(JSONParser):
    """JSON only. Numbers with a point come as Decimal, exactly as they were written."""

    def parse(self, stream, media_type=None, parser_context=None):
        try:
            data = json.loads(stream.read(), parse_float=_decimal, parse_constant=_constant, object_pairs_hook=_object)
        except RecursionError as error:
            raise exceptions.ParseError("The JSON is nested too deeply.") from error
        except ValueError as error:
            raise exceptions.ParseError(f"This is not JSON as we read it: {error}") from error
        if _deeper_than(data, DEEPEST):
            raise exceptions.ParseError("The JSON is nested too deeply.")
        return data


def _decimal(text):
    try:
        return Decimal(text)
    except InvalidOperation as error:
        raise ValueError("a number is out of all bounds") from error


def _constant(name):
    raise ValueError(f"{name} is no number")


def _object(pairs):
    made = dict(pairs)
    if len(made) < len(pairs):
        raise ValueError("a name stands twice in one object")
    return made


def _deeper_than(value, limit):
    level = [value]
    for _ in range(limit):
        level = [inner for outer in level if isinstance(outer, dict | list) for inner in _inside(outer)]
        if not level:
            return False
    return True


def _inside(outer):
    return outer.values() if isinstance(outer, dict) else outer
