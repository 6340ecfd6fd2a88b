"""An empty page that may load the phone's modules from their files, and nothing else."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, Route

PHONE = Path(__file__).parents[2] / "clients" / "phone"
NOWHERE = "http://phone.invalid"


@pytest.fixture(scope="module")
def page(chromium: "Browser") -> "Iterator[Page]":
    """Give an empty page that may load the phone's modules, and nothing else."""

    def from_folder(route: "Route") -> None:
        name = route.request.url.removeprefix(NOWHERE).removeprefix("/page/")
        if name == "/":
            route.fulfill(body="<!doctype html>", content_type="text/html")
        else:
            route.fulfill(path=PHONE / name, content_type="text/javascript")

    context = chromium.new_context()
    context.route("**/*", from_folder)
    opened = context.new_page()
    opened.goto(f"{NOWHERE}/")
    yield opened
    context.close()
