"""The member's own sets: a short name for each nameplate, so that it is typed once."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mendpool_field.disk import locked, read_object, write_object
from mendpool_field.errors import BadUsage
from mendpool_field.notes_aside import set_notes_aside

Plate = dict[str, Any]
"""A nameplate as the wire has it: the fields of `machine`."""

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,30}")


def read_sets(home: Path) -> dict[str, Plate]:
    """Return every set by name, in the order of their names.

    Raises:
        DamagedFile: the file holds something else.
    """
    kept = read_object(_file(home)) or {}
    return {name: plate for name, plate in sorted(kept.items()) if isinstance(plate, dict)}


def set_named(home: Path, typed: str) -> Plate:
    """Return the nameplate kept under a name.

    Raises:
        BadUsage: there is none of this name.
    """
    sets = read_sets(home)
    plate = sets.get(typed.strip().lower())
    if plate is not None:
        return plate
    if sets:
        raise BadUsage(
            f"There is no set called “{typed}”.", f"Your sets are: {', '.join(sets)}."
        )
    raise BadUsage(
        f"There is no set called “{typed}”.",
        f"Keep its nameplate first: mendpool set add {typed} --fuel diesel --kva 6.5",
    )


def keep_set(
    home: Path, typed: str, plate: Plate, *, replace: bool, now_s: float
) -> tuple[str, Path | None]:
    """Keep a nameplate; return the name it is kept under, and where older notes lie now.

    With `replace` it is put in place of one of the same name. What was kept about a set of
    another plate is set aside: this one is not judged by it.

    Raises:
        BadUsage: no fit name, or one that is taken.
    """
    name = typed.strip().lower()
    if not _NAME.fullmatch(name):
        raise BadUsage(
            f"“{typed}” can't be a set's name.",
            "Use up to 31 letters, digits, - and _, such as barn or pump-2.",
        )
    with locked(_lock(home), wait=True):
        sets = read_sets(home)
        if name in sets and not replace:
            raise BadUsage(
                f"There is a set called “{name}” already.",
                "Add --replace to put this nameplate in its place.",
            )
        other = name not in sets or not _is_same_set(sets[name], plate)
        aside = set_notes_aside(home, name, now_s) if other else None
        write_object(_file(home), {**sets, name: plate})
    return name, aside


def remove_set(home: Path, typed: str, now_s: float) -> tuple[str, Path | None]:
    """Forget a nameplate; return the name it had, and where the notes about it lie now.

    Raises:
        BadUsage: there is none of this name.
    """
    name = typed.strip().lower()
    with locked(_lock(home), wait=True):
        set_named(home, name)
        left = {kept: plate for kept, plate in read_sets(home).items() if kept != name}
        aside = set_notes_aside(home, name, now_s)
        write_object(_file(home), left)
    return name, aside


def _is_same_set(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Whether no field was changed; hours grow, and a field may be filled in later."""
    said = {f: v for f, v in old.items() if f != "hours" and v != "not-known"}
    return all(new.get(field) == value for field, value in said.items())


def plate_with(plate: Mapping[str, Any], given: Mapping[str, Any]) -> Plate:
    """Return a nameplate with the fields that were given in place of its own."""
    return {**plate, **{field: value for field, value in given.items() if value is not None}}


def _file(home: Path) -> Path:
    return home / "sets.json"


def _lock(home: Path) -> Path:
    return home / "sets.lock"
