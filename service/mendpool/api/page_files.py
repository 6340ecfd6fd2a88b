"""The page's files, read once at start: no address reaches the disk afterwards.

`clients/phone` is a client like any other and is served from here only because a browser must
get it from the address it then asks. What stands in the folder when the service starts is all
there is; each file is kept as it is and packed.
"""

import gzip
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from mendpool.api.replies import tag_of, to_json

FRONT, WORKER, MANIFEST = "/", "/sw.js", "/manifest.webmanifest"
"""Addresses outside `/page/`: a worker rules over no address above its own."""
UNDER = "/page/"
_AT_THE_TOP = {"index.html": FRONT, "sw.js": WORKER, "manifest.webmanifest": MANIFEST}
KINDS: Mapping[str, str] = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}
"""By ending; a file of any other is not given out."""
_WORTH_PACKING = 256
_VERSION_LENGTH = 16


@dataclass(frozen=True, slots=True)
class PageFile:
    """One file as it is sent.

    Args:
        kind: its media type.
        content: its bytes.
        packed: the same in gzip, or None where that is no smaller.
        tag: its ETag, the same for both.
    """

    kind: str
    content: bytes
    packed: bytes | None
    tag: str


@dataclass(frozen=True, slots=True)
class Page:
    """All files by address, and the version that changes with any of them."""

    version: str
    files: Mapping[str, PageFile]


def read_page(folder: Path) -> Page:
    """Read the page's folder.

    The worker is told, before its own first line, the version and every address it may keep:
    so nobody has to keep a list of files, and a changed file is a changed worker.
    """
    contents = {
        _address(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix in KINDS and not _hidden(path.relative_to(folder))
    }
    version = _version(contents)
    if WORKER in contents:
        told = {"version": version, "files": [name for name in contents if name != WORKER]}
        contents[WORKER] = b"self.PAGE = " + to_json(told) + b";\n" + contents[WORKER]
    return Page(version, {name: _file(name, content) for name, content in contents.items()})


def _address(path: Path) -> str:
    name = path.as_posix()
    return _AT_THE_TOP.get(name) or UNDER + name


def _hidden(path: Path) -> bool:
    return any(part.startswith(".") for part in path.parts)


def _version(contents: Mapping[str, bytes]) -> str:
    whole = hashlib.sha256()
    for name, content in sorted(contents.items()):
        whole.update(f"{len(name)} {name} {len(content)} ".encode() + content)
    return whole.hexdigest()[:_VERSION_LENGTH]


def _file(name: str, content: bytes) -> PageFile:
    kind = KINDS[".html" if name == FRONT else Path(name).suffix]
    packed = gzip.compress(content, mtime=0) if len(content) > _WORTH_PACKING else content
    smaller = packed if len(packed) < len(content) else None
    return PageFile(kind, content, smaller, tag_of(content))
