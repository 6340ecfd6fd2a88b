"""What a member used last: the sets, and on each the readings taken and the parts touched.

Nothing is kept for it: it is read off what lies in the member's folder already, reports sent
or waiting, sessions and last questions. So it is as private and as durable as those.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar
from uuid import UUID

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.record.machine import Machine
from mendpool_field.asked import questions_kept
from mendpool_field.checking import typed
from mendpool_field.figures_typed import place_of
from mendpool_field.outbox import Outbox
from mendpool_field.sessions import Sessions
from mendpool_field.sets import Plate

T = TypeVar("T")
Place = tuple[str, str]
"""Where a reading is taken: its quantity and its point."""
OFFERED = 5
_LOOKED_AT = 60
"""So many of the newest things are looked through: a start must stay short."""


@dataclass(frozen=True, slots=True)
class Usual:
    """What was used on a set, the last first.

    Args:
        readings: where they were taken.
        parts: codes of components that were touched.
    """

    readings: tuple[Place, ...] = ()
    parts: tuple[str, ...] = ()

    def told(self) -> dict[str, Any]:
        """Return it as JSON has it."""
        return {"readings": [list(place) for place in self.readings], "parts": list(self.parts)}

    @staticmethod
    def of(told: Mapping[str, Any]) -> "Usual":
        """Return what was told; see `told`."""
        readings = tuple((str(q), str(p)) for q, p in told["readings"])
        return Usual(readings, tuple(str(part) for part in told["parts"]))


@dataclass(frozen=True, slots=True)
class _Deed:
    """One thing that was said or done: when (seconds since 1970), and of which set."""

    when_s: float
    on: str | None
    machine: Mapping[str, Any]
    readings: tuple[Mapping[str, Any], ...]
    parts: tuple[str, ...]

    def is_of(self, name: str, plate: Mapping[str, Any]) -> bool:
        if self.on is not None:
            return self.on == name
        # A report does not say what its set is called at home; hours run stay there too.
        kept = {field: value for field, value in plate.items() if field != "hours"}
        return bool(kept) and all(self.machine.get(f) == value for f, value in kept.items())


class Used:
    """What lies in one member's folder, the newest first."""

    def __init__(self, home: Path) -> None:
        deeds = [*_sent(home), *_walked(home), *_asked(home)]
        self._deeds = sorted(deeds, key=lambda deed: -deed.when_s)[:_LOOKED_AT]

    def first(self, sets: Mapping[str, Plate]) -> dict[str, Plate]:
        """Return the sets, those used last before the others."""
        order = [n for deed in self._deeds for n, plate in sets.items() if deed.is_of(n, plate)]
        return {name: sets[name] for name in dict.fromkeys([*order, *sets])}

    def on(self, name: str, plate: Mapping[str, Any], catalogue: Catalogue) -> Usual:
        """Return what was used on a set."""
        deeds = [deed for deed in self._deeds if deed.is_of(name, plate)]
        components = catalogue.vocabulary.components
        parts = (p for deed in deeds for p in reversed(deed.parts) if p in components)
        return Usual(_some(_places(deeds, catalogue)), _some(parts))


def _some(found: Iterable[T]) -> tuple[T, ...]:
    """Return the first few that differ; what comes after them is never made."""
    kept: dict[T, None] = {}
    for one in found:
        kept[one] = None
        if len(kept) == OFFERED:
            break
    return tuple(kept)


def _places(deeds: Iterable[_Deed], catalogue: Catalogue) -> Iterator[Place]:
    for deed in deeds:
        try:
            machine = typed(Machine, deed.machine)
        except RefusedInput:
            continue
        for reading in reversed(deed.readings):
            with suppress(RefusedInput):
                yield place_of(reading, machine, catalogue)


def _sent(home: Path) -> Iterator[_Deed]:
    outbox = Outbox(home)
    for entry in (*outbox.sent()[-_LOOKED_AT:], *outbox.entries()):
        if entry.kind == "report":
            with suppress(ValueError, TypeError, AttributeError):
                body = json.loads(entry.body)
                yield _deed(_minted_s(entry.id), None, body["machine"], body)


def _walked(home: Path) -> Iterator[_Deed]:
    for session in Sessions(home).all():
        told = {
            "readings": [
                *session.asked.get("readings", ()),
                *(event["reading"] for event in session.of("read")),
            ],
            "attempts": [
                *session.asked.get("tried", ()),
                *(event["attempt"] for event in session.of("tried")),
            ],
        }
        yield _deed(session.kept_s, session.on, session.machine, told)


def _asked(home: Path) -> Iterator[_Deed]:
    for name, when_s, question in questions_kept(home):
        with suppress(TypeError, AttributeError):
            yield _deed(when_s, name, question.get("machine", {}), question)


def _deed(
    when_s: float, on: str | None, machine: Mapping[str, Any], told: Mapping[str, Any]
) -> _Deed:
    readings = tuple(
        reading
        for reading in told.get("readings", ())
        if isinstance(reading, dict) and reading.get("stage") != "left"
    )
    made = [*told.get("attempts", ()), *told.get("tried", ())]
    parts = tuple(str(one["component"]) for one in made if "component" in one)
    return _Deed(when_s, on, dict(machine), readings, parts)


def _minted_s(entry_id: str) -> float:
    """When an id was made, by the clock of then (RFC 9562: 48 bits of milliseconds)."""
    return (UUID(entry_id).int >> 80) / 1000
