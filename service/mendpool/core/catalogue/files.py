"""Reads the packaged catalogue. The only module of the core that touches a disk.

The checked form is kept as JSON beside the member's other caches, named by the hash of the
YAML it was made from: reading it back takes a tenth of the time of checking it anew.
"""

import gc
import hashlib
import os
import tempfile
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from pydantic import ValidationError

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.loader import load_catalogue

_FORM = "9"
"""Raised when the types change, so that an older cached form is not read."""


def packaged_texts() -> dict[str, str]:
    """Return the texts shipped with mendpool, by their path under `data/`."""
    return dict(_texts(files("mendpool.core.catalogue") / "data", ""))


def version_of(texts: Mapping[str, str]) -> str:
    """Return the catalogue's version: 16 hexadecimal digits of the hash of its YAML."""
    digest = hashlib.sha256(_FORM.encode())
    for path, text in sorted(texts.items()):
        digest.update(path.encode() + b"\0" + text.encode() + b"\0")
    return digest.hexdigest()[:16]


@lru_cache(maxsize=2)
def packaged_catalogue(cache: Path | None = None) -> Catalogue:
    """Return the packaged catalogue, checked.

    Args:
        cache: a folder to keep the checked form in; None keeps nothing.

    Raises:
        CatalogueError: the YAML is wrong; each line names file and entry.
    """
    texts = packaged_texts()
    version = version_of(texts)
    kept = None if cache is None else cache / f"catalogue-{version}.json"
    if kept is not None:
        found = _kept(kept)
        if found is not None:
            return found
    catalogue = _loaded(texts).model_copy(update={"version": version})
    if kept is not None:
        _keep(kept, catalogue)
    return catalogue


def _loaded(texts: Mapping[str, str]) -> Catalogue:
    """Load without the collector: so many small values at once cost it a fifth of the time."""
    running = gc.isenabled()
    gc.disable()
    try:
        return load_catalogue(texts)
    finally:
        if running:
            gc.enable()


def _texts(folder: Traversable, above: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            found += _texts(entry, f"{above}{entry.name}/")
        elif entry.name.endswith((".yaml", ".txt")):
            found.append((above + entry.name, entry.read_text("utf-8")))
    return found


def _kept(kept: Path) -> Catalogue | None:
    try:
        return Catalogue.model_validate_json(kept.read_bytes())
    except (OSError, ValidationError):
        return None


def _keep(kept: Path, catalogue: Catalogue) -> None:
    """Write by renaming, so that a reader never sees half; a full disk costs speed only."""
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=kept.parent, suffix=".new")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(catalogue.model_dump_json())
        Path(name).replace(kept)
    except OSError:
        return
