"""The body of a request as one strict JSON object."""

from dataclasses import dataclass
from typing import Any

from fastapi import Request

from mendpool.api.problems import Refusal
from mendpool.core.record.strict_json import NotStrictJson, read_object


@dataclass(frozen=True, slots=True)
class JsonBody:
    """One JSON object as received."""

    value: dict[str, Any]


async def json_body(request: Request) -> JsonBody:
    """Read the body as one strict JSON object.

    Raises:
        Refusal: another content type, or what `read_object` refuses.
    """
    _check_type(request)
    return JsonBody(_object(await request.body()))


def object_of(request: Request, content: bytes) -> dict[str, Any]:
    """Return a body that has been read as one strict JSON object; see `json_body`.

    Raises:
        Refusal: as `json_body`.
    """
    _check_type(request)
    return _object(content)


def _check_type(request: Request) -> None:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json" and not kind.endswith("+json"):
        raise Refusal("not-json-type")


def _object(content: bytes) -> dict[str, Any]:
    try:
        return read_object(content)
    except NotStrictJson as error:
        raise Refusal("not-json", str(error)) from None
