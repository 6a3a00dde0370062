"""The API's own page: its OpenAPI description as something to read, without a script from elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from coachhub.web.api.site import api


@dataclass(frozen=True)
class Part:
    name: str
    kind: str
    needed: bool
    words: str


@dataclass(frozen=True)
class Call:
    method: str
    path: str
    summary: str
    takes: list[Part]
    gives: list[Part]
    gives_many: bool


@require_safe
def guide(request: HttpRequest) -> HttpResponse:
    described = api.get_openapi_schema()
    context = {
        "described": described,
        "calls": [
            _call(described, path, method, call)
            for path, methods in described["paths"].items()
            for method, call in methods.items()
        ],
        "described_at": reverse("api:openapi-json"),
        "refusal": _parts(described, {"$ref": "#/components/schemas/Problem"}),
    }
    return render(request, "account/api.html", context)


def _call(described: dict[str, Any], path: str, method: str, call: dict[str, Any]) -> Call:
    takes = [
        Part(
            one["name"],
            _kind(one["schema"]),
            one.get("required", False),
            one["schema"].get("description", ""),
        )
        for one in call.get("parameters", ())
    ]
    if "requestBody" in call:
        takes += _parts(described, call["requestBody"]["content"]["application/json"]["schema"])
    good = next(body for status, body in call["responses"].items() if int(status) < 300)
    schema = good["content"]["application/json"]["schema"]
    many = schema.get("type") == "array"
    gives = _parts(described, schema["items"] if many else schema)
    return Call(method.upper(), path, call["summary"], takes, gives, many)


def _parts(described: dict[str, Any], schema: dict[str, Any]) -> list[Part]:
    whole = _found(described, schema)
    needed = set(whole.get("required", ()))
    return [
        Part(name, _kind(one), name in needed, one.get("description", ""))
        for name, one in whole.get("properties", {}).items()
    ]


def _found(described: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    name = schema.get("$ref", "").rpartition("/")[2]
    found: dict[str, Any] = described["components"]["schemas"][name] if name else schema
    return found


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return schema["$ref"].rpartition("/")[2]
    if "anyOf" in schema:
        return " or ".join(_kind(one) for one in schema["anyOf"])
    if schema.get("type") == "array":
        return f"list of {_kind(schema['items'])}"
    if isinstance(schema.get("additionalProperties"), dict):
        return f"name to {_kind(schema['additionalProperties'])}"
    return str(schema.get("format") or schema.get("type") or "any")
