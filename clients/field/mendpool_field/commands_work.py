"""`mendpool work`: the sums of the trade, with no signal needed."""

import json
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.commands_ask import plate_of
from mendpool_field.errors import BadUsage

FROM_PLATE = {
    "volts": "rated_volts", "phases": "phases", "set_kva": "rated_kva", "set_kw": "rated_kw",
    "rated_kva": "rated_kva", "rated_kw": "rated_kw", "excitation": "excitation",
    "fuel": "fuel", "altitude_m": "altitude_m", "battery_volts": "start_volts",
    "class": "class",
}  # fmt: skip
"""Inputs that the nameplate answers, with the plate's own name."""


def work(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="Which; bare, it lists them.")
    ] = None,
    inputs: Annotated[
        list[str] | None,
        typer.Argument(metavar="INPUT=VALUE", help='Such as motor_hp="3 hp".'),
    ] = None,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Do a sum of the trade: will it start the pump, cable size, spares...

    mendpool work pump-start motor_hp="3 hp" code_letter=H --on barn
    """
    from mendpool.core.workings.registry import WORKINGS, UnknownWorking, listed
    from mendpool.core.workings.registry import work as work_out
    from mendpool_field.render_work import list_text, usage_text, worked_text

    known = console.settings()
    catalogue = console.catalogue(known)
    entries = listed(catalogue)
    if name is None:
        console.show({"items": entries}, list_text(entries, console.width()), as_json=as_json)
        return
    name = name.strip().lower().replace("_", "-")
    working = WORKINGS.get(name)
    if working is not None and not inputs and on is None:
        entry = next(e for e in entries if e["name"] == name)
        console.show(entry, usage_text(entry, console.width()), as_json=as_json)
        return
    schema = working.inputs.model_json_schema(by_alias=True) if working is not None else {}
    given = _given(inputs or (), schema.get("properties", {}))
    plate = plate_of(known, on, None, None) if on else {}
    try:
        worked = work_out(name, {**_from_plate(plate, schema), **given}, catalogue)
    except UnknownWorking as unknown:
        meant = f"mendpool work {unknown.near}" if unknown.near else "mendpool work"
        raise BadUsage(f"There is no sum called “{name}”.", f"Try: {meant}") from None
    body = worked.model_dump(mode="json", exclude_none=True)
    console.show(body, worked_text(body, console.width()), as_json=as_json)


def _given(inputs: Sequence[str], properties: Mapping[str, Any]) -> dict[str, Any]:
    """Values by name; text stays text where the input takes it, else it is read as JSON."""
    found: dict[str, Any] = {}
    for typed in inputs:
        name, equals, value = typed.partition("=")
        name = name.strip().replace("-", "_")
        if not equals or not name:
            raise BadUsage(
                f"“{typed}” is no input.", 'Write it as NAME=VALUE: motor_hp="3 hp".'
            )
        # degC keeps its capital whatever was typed.
        name = next((known for known in properties if known.lower() == name.lower()), name)
        found[name] = value if _takes_text(properties.get(name, {})) else _read(value)
    return found


def _takes_text(schema: Mapping[str, Any]) -> bool:
    branches = [schema, *schema.get("anyOf", ())]
    return any(
        branch.get("type") == "string" or isinstance(branch.get("const"), str)
        or any(isinstance(code, str) for code in branch.get("enum", ()))
        for branch in branches
    )  # fmt: skip


def _read(value: str) -> Any:  # noqa: ANN401 - any JSON
    words = {"yes": True, "no": False}
    if value.strip().lower() in words:
        return words[value.strip().lower()]
    try:
        return json.loads(value)
    except ValueError:
        return value


def _from_plate(plate: Mapping[str, Any], schema: Mapping[str, Any]) -> dict[str, Any]:
    """What the plate answers of a working's inputs; `not-known` answers nothing."""
    taken = {}
    for name in schema.get("properties", {}):
        value = plate.get(FROM_PLATE.get(name, ""))
        if value is not None and value != "not-known":
            taken[name] = value
    return taken


COMMANDS: Sequence[Any] = (work,)
