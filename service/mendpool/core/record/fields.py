"""The small types every record is made of: text, numbers, codes, months, ids."""

import re
import unicodedata
import uuid
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

TEXT_MAX = 4000
SHORT_MAX = 60
READINGS_MAX = 100
ATTEMPTS_MAX = 50
PAST_MAX = 300

_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")
"""Unicode's categories Cc, but for tab and new line, and Cs."""
_SPACE = re.compile(r"(\s{8})\s+")
_MONTH = r"^(19|20)\d{2}-(0[1-9]|1[0-2])$"


class Record(BaseModel):
    """Frozen; a field nobody knows is refused, so that a typing mistake is not lost."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


def clean_text(text: str) -> str:
    """Return the text in NFC, without surrounding space and long runs of it.

    Space beyond eight in a row tells nothing, and a pattern that may split it among several
    places takes minutes over thousands.

    Raises:
        ValueError: for control characters (a tab or a new line is none) and lone
            surrogates, which no database stores alike.
    """
    if _NO_TEXT.search(text):
        raise ValueError("holds a character that is no text (control or half a pair)")
    return _SPACE.sub(r"\1", unicodedata.normalize("NFC", text).strip())


def _uuid7(value: uuid.UUID) -> uuid.UUID:
    if value.version != 7 or value.variant != uuid.RFC_4122:
        raise ValueError("not a UUIDv7 (RFC 9562)")
    return value


def _one_line(text: str) -> str:
    return re.sub(r"\s+", " ", text)


Text = Annotated[str, Field(max_length=TEXT_MAX), AfterValidator(clean_text)]
ShortText = Annotated[
    str, Field(max_length=SHORT_MAX), AfterValidator(clean_text), AfterValidator(_one_line)
]
PartText = Annotated[
    str, Field(max_length=120), AfterValidator(clean_text), AfterValidator(_one_line)
]
Code = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Which = Annotated[int, Field(strict=True, ge=1, le=200)] | Annotated[Code, Field(max_length=16)]
"""Which of several: a cylinder, a cell, a phase, a pin. Too short to tell a story in."""
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Month = Annotated[str, Field(pattern=_MONTH)]
Minutes = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100_000)]
Money = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=10_000_000)]
Id = Annotated[uuid.UUID, AfterValidator(_uuid7)]
