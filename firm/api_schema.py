"""What every answer of the API may be beside the good one: a problem document."""

PROBLEM = {
    "description": "Refused, and nothing was changed: a problem document (RFC 9457).",
    "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
}


def with_problems(result, generator, request, public):
    """Hook of the schema's making: name the problem document at each operation."""
    for path, by_method in result["paths"].items():
        if path.startswith("/api/v1/"):
            for operation in by_method.values():
                operation["responses"]["default"] = PROBLEM
    return result
