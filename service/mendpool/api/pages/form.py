"""A form as a browser posts it, read within bounds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import parse_qsl

from fastapi import Request

from mendpool.api.problems import Refusal

FIELDS_MOST = 400
_KIND = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class Form:
    """What was posted: each name with its values, in their order."""

    values: Mapping[str, Sequence[str]]

    def one(self, name: str) -> str:
        """Return the value of a field without surrounding space, empty where there is none."""
        return next(iter(self.values.get(name, ())), "").strip()

    def all(self, name: str) -> list[str]:
        """Return every value of a field that is not empty."""
        return [value.strip() for value in self.values.get(name, ()) if value.strip()]


async def read_form(request: Request) -> Form:
    """Read the body of a posted form.

    Raises:
        Refusal: another content type, no UTF-8, or more than 400 fields.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != _KIND:
        raise Refusal("not-a-form")
    try:
        pairs = parse_qsl(
            (await request.body()).decode("ascii"),
            keep_blank_values=True,
            errors="strict",
            max_num_fields=FIELDS_MOST,
        )
    except ValueError:
        raise Refusal("not-a-form") from None
    values: dict[str, list[str]] = {}
    for name, value in pairs:
        # Browsers send every line's end as two characters.
        values.setdefault(name, []).append(value.replace("\r\n", "\n"))
    return Form(values)
