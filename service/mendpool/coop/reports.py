"""Reads the invented co-op. Everything in it is made up: people, places, makes, repairs."""

import hashlib
import json
import uuid
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any, NamedTuple

import yaml

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class InventedFollowup(NamedTuple):
    """A follow-up of an invented report, with its id and wire body."""

    id: uuid.UUID
    body: dict[str, Any]


class InventedReport(NamedTuple):
    """One invented report: whose, its id, its wire body, what was seen later."""

    who: str
    id: uuid.UUID
    body: dict[str, Any]
    followups: tuple[InventedFollowup, ...]


def label() -> str:
    """Return the words that say it is invented, for wherever it is shown."""
    about = yaml.load(_text("about.yaml"), Loader=_Loader)  # noqa: S506 - a safe loader
    return f"{about['label']}: {about['says']}"


def invented_reports() -> list[InventedReport]:
    """Return every report in the order of its month; ids are the same at every reading."""
    folder = files("mendpool.coop") / "data"
    names = sorted(f.name for f in folder.iterdir() if f.name.startswith("reports-"))
    entries = [
        entry
        for name in names
        for entry in yaml.load(_text(name), Loader=_Loader)  # noqa: S506
    ]
    return sorted(
        (_report(entry) for entry in entries), key=lambda r: (r.body["happened"], r.id)
    )


def stable_id(month: str, text: str) -> uuid.UUID:
    """Return a UUIDv7 of the month's first instant whose other bits are a hash of the text."""
    year, number = (int(part) for part in month.split("-"))
    milliseconds = int(datetime(year, number, 1, tzinfo=UTC).timestamp() * 1000)
    tail = int.from_bytes(hashlib.sha256(text.encode()).digest()[:10], "big")
    value = milliseconds << 80 | tail
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return uuid.UUID(int=value)


def _report(entry: dict[str, Any]) -> InventedReport:
    body = {k: v for k, v in entry.items() if k not in ("who", "followups")}
    name = json.dumps(entry, sort_keys=True, default=str)
    followups = tuple(
        InventedFollowup(stable_id(f["happened"], f"{name}|{i}"), dict(f))
        for i, f in enumerate(entry.get("followups", ()))
    )
    return InventedReport(entry["who"], stable_id(body["happened"], name), body, followups)


def _text(name: str) -> str:
    return (files("mendpool.coop") / "data" / name).read_text("utf-8")
