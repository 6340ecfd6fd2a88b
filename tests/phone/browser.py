"""The browser of the tests: whatever Chromium this machine has."""

import shutil
import subprocess
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
NONE = "NO BROWSER HERE: install chromium, or these tests say nothing"


def browser() -> str:
    """Return the browser's program; skip loudly where there is none."""
    for name in NAMES:
        found = shutil.which(name)
        if found is not None:
            return found
    pytest.skip(NONE)


def printed(page: Path, to: Path) -> bytes:
    """Print a page to PDF as the browser would, without headers of its own."""
    subprocess.run(
        [
            browser(), "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
            "--no-pdf-header-footer", f"--user-data-dir={to.parent / 'profile'}",
            f"--print-to-pdf={to}", page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=90,
    )  # fmt: skip
    return to.read_bytes()
