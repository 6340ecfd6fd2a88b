"""A body as a typed record, or a complaint for each thing that is wrong with it."""

from collections.abc import Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from mendpool.core.catalogue.vocabulary import nearest_code
from mendpool.core.errors import Complaint, RefusedInput

_ERRORS_MOST = 50
M = TypeVar("M", bound=BaseModel)
_NO_OBJECT = ("model_type", "model_attributes_type", "dict_type")


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


def _complaint(model: type[BaseModel], fault: Any) -> Complaint:
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
