"""An empty page with the phone's modules at hand: for what they do by themselves."""

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, Route

PHONE = Path(__file__).parents[2] / "clients" / "phone"
NOWHERE = "http://phone.invalid"
"""Nobody is asked: every request is answered from the folder."""


def _from_folder(route: "Route") -> None:
    name = route.request.url.removeprefix(NOWHERE).removeprefix("/page/")
    if name == "/":
        route.fulfill(body="<!doctype html>", content_type="text/html")
    else:
        kind = "application/json" if name.endswith(".json") else "text/javascript"
        route.fulfill(path=PHONE / name, content_type=kind)


@contextmanager
def empty_page(chromium: "Browser") -> "Iterator[Page]":
    """Open a page that may load the files of the folder, and nothing else."""
    context = chromium.new_context(locale="en-GB")
    context.route("**/*", _from_folder)
    page = context.new_page()
    page.goto(f"{NOWHERE}/")
    yield page
    context.close()
