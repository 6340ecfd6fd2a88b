"""Log lines as JSON, one object a line, without a word of anybody's text or token.

An error is told by its kind and the places in the code it went through. What it says is left
out: the words of a driver's error hold the values of the statement, which are people's texts.
"""

import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from mendpool.api.seen import REQUEST_ID, Request

_REQUESTS = logging.getLogger("mendpool.requests")
_FRAMES_MOST = 30


class JsonLines(logging.Formatter):
    """Makes a line of a record."""

    def format(self, record: logging.LogRecord) -> str:
        """Return one JSON object, its time in UTC."""
        told: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(
                timespec="milliseconds"
            ),
            "level": record.levelname.lower(),
        }
        request_id = REQUEST_ID.get()
        if request_id is not None:
            told["request"] = request_id
        asked = record.__dict__.get("asked")
        if isinstance(asked, Request):
            told |= {
                "request": asked.id,
                "method": asked.method,
                "route": asked.route,
                "status": asked.status,
                "bytes": asked.sent,
                "ms": round(asked.seconds * 1000, 1),
            }
        else:
            told["says"] = record.getMessage()
        if record.exc_info and record.exc_info[1] is not None:
            told["error"] = _kinds(record.exc_info[1])
            told["where"] = _places(record.exc_info[1])
        return json.dumps(told, ensure_ascii=False)


def note_request(request: Request) -> None:
    """Write the line of a request."""
    _REQUESTS.info("", extra={"asked": request})


def configuration() -> dict[str, Any]:
    """Return the settings of Python's logging for a service: all of it to standard error."""
    told = {"handlers": ["lines"], "level": "INFO", "propagate": False}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"json": {"()": JsonLines}},
        "handlers": {
            "lines": {
                "class": "logging.StreamHandler",
                "formatter": "json",
                "stream": sys.stderr,
            }
        },
        "loggers": {"uvicorn": told, "mendpool": told},
        "root": {"handlers": ["lines"], "level": "WARNING"},
    }


def _kinds(error: BaseException) -> list[str]:
    """Return the kind of an error and of those it came from, the first cause last."""
    kinds: list[str] = []
    found: BaseException | None = error
    while found is not None and len(kinds) < _FRAMES_MOST:
        kinds.append(type(found).__name__)
        found = found.__cause__ or found.__context__
    return kinds


def _places(error: BaseException) -> list[str]:
    frames = traceback.extract_tb(error.__traceback__)[-_FRAMES_MOST:]
    return [f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in frames]
