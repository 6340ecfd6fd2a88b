"""Strict JSON bodies: read, bounded, parsed without surprises, then typed."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from fastapi import Request
from pydantic import BaseModel, ValidationError

from mendpool.api.problems import Refusal
from mendpool.core.catalogue.vocabulary import nearest_code
from mendpool.core.errors import Complaint, RefusedInput

_DEEPEST = 20
_ERRORS_MOST = 50
M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class JsonBody:
    """One JSON object as received."""

    value: dict[str, Any]


async def json_body(request: Request) -> JsonBody:
    """Read the body as one strict JSON object.

    Raises:
        Refusal: another content type, not UTF-8, not JSON, a key twice, NaN, half a
            surrogate pair, a NUL, too deep, or no object.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json" and not kind.endswith("+json"):
        raise Refusal("not-json-type")
    raw = await request.body()
    try:
        text = raw.decode("utf-8")
        value = json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant)
    except UnicodeDecodeError:
        raise Refusal("not-json", "The body is not UTF-8 text.") from None
    except RecursionError:
        raise Refusal("not-json", "The body is nested too deeply.") from None
    except _TwiceError:
        raise Refusal("not-json", "A name stands twice in one object.") from None
    except _ConstantError:
        raise Refusal("not-json", "NaN and Infinity are no JSON numbers.") from None
    except ValueError:
        raise Refusal("not-json", "The body is not JSON.") from None
    if not isinstance(value, dict):
        raise Refusal("not-json", "The body must be one JSON object.")
    _check_texts(value, 0)
    return JsonBody(value)


def typed(model: type[M], value: dict[str, Any]) -> M:
    """Return the body as a model.

    Raises:
        RefusedInput: with a JSON Pointer for each thing wrong.
    """
    try:
        return model.model_validate(value)
    except ValidationError as error:
        faults = error.errors(include_url=False, include_input=False)[:_ERRORS_MOST]
        raise RefusedInput(
            [_complaint(model, fault) for fault in _without_unions(faults)]
        ) from None


class _TwiceError(ValueError):
    pass


class _ConstantError(ValueError):
    pass


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _TwiceError
    return found


def _no_constant(_: str) -> None:
    raise _ConstantError


def _check_texts(value: object, depth: int) -> None:
    if depth > _DEEPEST:
        raise Refusal("not-json", "The body is nested too deeply.")
    if isinstance(value, str):
        if "\x00" in value or any("\ud800" <= c <= "\udfff" for c in value):
            raise Refusal("not-json", "A text holds NUL or half a surrogate pair.")
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_texts(key, depth + 1)
            _check_texts(inner, depth + 1)
    elif isinstance(value, list):
        for inner in value:
            _check_texts(inner, depth + 1)


_NO_OBJECT = ("model_type", "model_attributes_type", "dict_type")


def _without_unions(faults: Sequence[Any]) -> list[Any]:
    """Of the branches of a union, each of which complains, keep one complaint a place."""
    kept: dict[str, Any] = {}
    for fault in faults:
        # A list whose items are all refused is then told to be too short as well.
        if fault["type"] == "too_short" and any(
            len(other["loc"]) > len(fault["loc"])
            and other["loc"][: len(fault["loc"])] == fault["loc"]
            for other in faults
        ):
            continue
        kept.setdefault(_pointer(fault["loc"]), fault)
    return list(kept.values())


def _pointer(loc: Sequence[str | int]) -> str:
    parts = [str(p) for p in loc if not (isinstance(p, str) and _is_branch(p))]
    return "".join("/" + p.replace("~", "~0").replace("/", "~1") for p in parts)


def _is_branch(part: str) -> bool:
    """Pydantic names the branch of a union in the place; a pointer has no room for it."""
    return (
        "[" in part
        or part.startswith("constrained-")
        or part in {"float", "int", "str", "bool"}
    )


def _complaint(model: type[BaseModel], fault: Any) -> Complaint:  # noqa: ANN401 - Pydantic's
    at = _pointer(fault["loc"])
    kind = fault["type"]
    if kind == "extra_forbidden":
        name = str(fault["loc"][-1])
        near = nearest_code(name, _names_at(model, fault["loc"]))
        near = near.replace("-", "_") if near else None
        return Complaint(at, "no such field; a typing mistake?", near)
    if kind == "missing":
        return Complaint(at, "this is needed")
    if kind == "too_short":
        return Complaint(at, f"at least {fault['ctx']['min_length']} of these")
    if kind in _NO_OBJECT:
        return Complaint(at, "must be an object, with its fields by name")
    if kind == "too_long":
        return Complaint(at, f"at most {fault['ctx']['max_length']} of these")
    said = str(fault["msg"]).removeprefix("Value error, ")
    return Complaint(at, said[:1].lower() + said[1:])


def _names_at(model: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    """The names of the fields that could have been meant at a place."""
    schema = model.model_json_schema()
    here = schema
    for part in loc[:-1]:
        here = _resolved(here, schema)
        here = here.get("items", {}) if isinstance(part, int) else _property(here, str(part))
    return [name.replace("_", "-") for name in _resolved(here, schema).get("properties", {})]


def _property(here: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = here.get("properties", {}).get(name, {})
    return found


def _resolved(here: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    for branch in here.get("anyOf", ()):
        if "$ref" in branch or "items" in branch:
            here = branch
    if "$ref" in here:
        found: dict[str, Any] = schema["$defs"][str(here["$ref"]).rsplit("/", 1)[-1]]
        return found
    return here
