"""The first view's modules are asked for at once, not each when another names it."""

import re

from tests.house.tree import TOP

PHONE = TOP / "clients/phone"
FIRST = ("app.js", "views/home.js")
_IMPORT = re.compile(r"^(?:import|export)\b[^;]*?from\s+'(\.[^']+)'", re.MULTILINE)


def needed() -> set[str]:
    """Every module the first view imports, by its address below the page's folder."""
    found: set[str] = set()
    left = list(FIRST)
    while left:
        name = left.pop()
        if name not in found:
            found.add(name)
            folder = (PHONE / name).parent
            text = (PHONE / name).read_text("utf-8")
            left += [
                (folder / path).resolve().relative_to(PHONE).as_posix()
                for path in _IMPORT.findall(text)
            ]
    return found


def test_all_are_named_in_the_page_and_no_others() -> None:
    page = (PHONE / "index.html").read_text("utf-8")
    named = set(re.findall(r'rel="modulepreload" href="/page/([^"]+)"', page))
    assert named == needed() - {"app.js"}
