"""Plain text that fits: paragraphs, headings and values, for 40 columns and up.

What other members wrote reaches a terminal only through `clean`: an escape sequence in a
note must not move a cursor or rename a window.
"""

import textwrap
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

NARROWEST, WIDEST = 40, 100


def fit_width(columns: int) -> int:
    """Return the width to write for: the terminal's, within reason."""
    return max(NARROWEST, min(WIDEST, columns))


def clean(value: object) -> str:
    """Return a value as one line of harmless text; control and direction marks go."""
    text = "" if value is None else str(value)
    return " ".join("".join(" " if _is_control(c) else c for c in text).split())


def para(text: object, width: int, *, first: str = "", rest: str | None = None) -> list[str]:
    """Wrap a text; `first` leads the first line, `rest` the others (as wide a blank)."""
    rest = " " * len(first) if rest is None else rest
    return textwrap.wrap(
        clean(text),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    ) or ([first.rstrip()] if first.strip() else [])


def section(title: str, lines: Iterable[str]) -> list[str]:
    """Return a titled block with an empty line after it; nothing at all without lines."""
    held = list(lines)
    return [title, *held, ""] if held else []


def command(line: str, width: int, *, short: str = "") -> str:
    """Return a command to type, on a line of its own, never wrapped so that it can be copied.

    `short` is the same with short options, used where the long one is too wide.
    """
    whole = f"    {clean(line)}"
    return whole if len(whole) <= width or not short else f"  {clean(short)}"


def sourced(says: str, source: str) -> str:
    """Return what is said with who says so after it, in words that can be read aloud."""
    return f"{says} (source: {source})" if says and source else says or source


def pages(blocks: Iterable[list[str]]) -> str:
    """Join blocks of lines to one text without empty lines at its end."""
    return "\n".join(line for block in blocks for line in block).rstrip("\n")


def items(source: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    """Return the objects of a list, whatever else a newer service put there."""
    found = source.get(key)
    return [i for i in found if isinstance(i, Mapping)] if isinstance(found, list) else []


def texts(source: Mapping[str, Any], key: str) -> list[str]:
    """Return the texts of a list."""
    found = source.get(key)
    return [clean(i) for i in found if isinstance(i, str)] if isinstance(found, list) else []


def part(source: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    """Return an object, empty where there is none."""
    found = source.get(key)
    return found if isinstance(found, Mapping) else {}


def number(source: Mapping[str, Any], key: str) -> float | None:
    """Return a number, None where there is none."""
    found = source.get(key)
    return (
        float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
    )


def figure(value: float | None) -> str:
    """Return a number as people write it: four digits say all that a meter does."""
    if value is None:
        return ""
    text = f"{value:.4g}"
    return f"{value:.0f}" if "e+" in text else text


def words(code: object) -> str:
    """Return a code as words."""
    return clean(code).replace("-", " ")


def share(value: float | None) -> str:
    """Return a share of 1 in whole per cent; a small one is not nothing."""
    if value is None:
        return "not known"
    if 0 < value < 0.01:
        return "under 1 %"
    return f"{value * 100:.0f} %"


def _is_control(character: str) -> bool:
    return unicodedata.category(character) in {"Cc", "Cf", "Cs", "Zl", "Zp", "Co", "Cn"}
