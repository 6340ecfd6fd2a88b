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
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json" and not kind.endswith("+json"):
        raise Refusal("not-json-type")
    try:
        return JsonBody(read_object(await request.body()))
    except NotStrictJson as error:
        raise Refusal("not-json", str(error)) from None
