"""The API described for people, rendered here from the same schema that programs read."""

from dataclasses import dataclass, field
from functools import cache

from django.shortcuts import render
from django.views.decorators.http import require_GET
from drf_spectacular.generators import SchemaGenerator

DEEPEST = 3
WORDS = {
    "string": "text",
    "integer": "whole number",
    "double": "number",
    "boolean": "true or false",
    "object": "object",
    "uuid": "UUID",
    "date": "day",
    "time": "time of day",
    "date-time": "moment",
}
METHODS = ("get", "post", "delete")
EXAMPLE = """curl -X POST https://spares.example/api/v1/fitted/ \\
  -H "Authorization: Bearer TOKEN" -H "Content-Type: application/json" \\
  -d '{"id": "0b7c3c52-7d5e-4f0e-9d0c-2f6f3f1f8a11", "visit": "V104233", "part": "PMP-3",
       "component": "circulating-pump", "quantity": 1, "why": "failed"}'"""


@dataclass(frozen=True)
class Row:
    """One name that is sent or answered. `path` is dotted; [] stands for each of several."""

    path: str
    kind: str
    needed: bool = False
    about: str = ""


@dataclass(frozen=True)
class Operation:
    method: str
    path: str
    about: str
    asked: list = field(default_factory=list)
    sent: list = field(default_factory=list)
    answered: list = field(default_factory=list)

    @property
    def pieces(self):
        """The address in pieces, between which a narrow screen may break it."""
        return self.path.strip("/").split("/")


@require_GET
def docs(request):
    base = "firm/base.html"
    if request.user.is_authenticated and not request.user.sees_office:
        base = "firm/phone.html"
    return render(request, "firm/api_docs.html", {"base": base, "groups": groups(), "example": EXAMPLE})


@cache
def groups():
    """[(first word of the address, [Operation])]; the schema changes only with the code."""
    schema = SchemaGenerator().get_schema(request=None, public=True)
    found = {}
    for path, by_method in schema["paths"].items():
        for method in METHODS:
            if method in by_method:
                word = path.removeprefix("/api/v1/").split("/")[0]
                found.setdefault(word, []).append(_operation(schema, method, path, by_method[method]))
    return sorted(found.items(), key=lambda pair: (pair[0] != "sign-in", pair[0]))


def _operation(schema, method, path, described):
    asked = [
        Row(row["name"], kind_of(schema, row["schema"]), row.get("required", False), row.get("description", ""))
        for row in described.get("parameters", [])
    ]
    good = next((body for code, body in described["responses"].items() if code.startswith("2")), {})
    return Operation(
        method=method.upper(),
        path=path,
        about=described.get("description", ""),
        asked=asked,
        sent=rows(schema, _json(described.get("requestBody", {}))),
        answered=rows(schema, _json(good)),
    )


def _json(body):
    return body.get("content", {}).get("application/json", {}).get("schema", {})


def rows(schema, shape, path="", depth=DEEPEST):
    """The names inside a shape, each with what may stand there."""
    shape = _resolved(schema, shape)
    if shape.get("type") == "array":
        return rows(schema, shape["items"], f"{path}[].".lstrip("."), depth)
    found = []
    for name, inner in shape.get("properties", {}).items():
        needed = name in shape.get("required", [])
        found.append(Row(path + name, kind_of(schema, inner), needed, inner.get("description", "")))
        if depth > 1:
            found += rows(schema, inner, f"{path}{name}{'' if _is_list(schema, inner) else '.'}", depth - 1)
    return found


def _is_list(schema, shape):
    return _resolved(schema, shape).get("type") == "array"


def _resolved(schema, shape):
    """The shape itself behind references and wrappers."""
    for wrapper in ("allOf", "oneOf", "anyOf"):
        if any("$ref" in inner for inner in shape.get(wrapper, [])):
            shape = next(inner for inner in shape[wrapper] if "$ref" in inner)
    while "$ref" in shape:
        shape = schema["components"]["schemas"][shape["$ref"].rsplit("/", 1)[1]]
    return shape


def kind_of(schema, shape):
    """In words what may stand there."""
    words = [_kind(schema, inner) for inner in shape.get("oneOf", []) if "$ref" not in inner]
    word = " or ".join(dict.fromkeys(words)) if words else _kind(schema, _resolved(schema, shape))
    return f"{word}, or null" if shape.get("nullable") else word


def _kind(schema, shape):
    if "enum" in shape:
        return "one of " + ", ".join(str(word) for word in shape["enum"] if word != "")
    if shape.get("type") == "array":
        return f"list of {kind_of(schema, shape['items'])}"
    word = shape.get("format") or shape.get("type", "anything")
    return WORDS.get(word, word)
