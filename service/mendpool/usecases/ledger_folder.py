"""The ledger of a pool on disk, so that the next fit only adds what came since.

Nothing here is the truth: what can't be read is made again from the feed. Files are written
once under a new name, and a manifest put in place in one step then names those that count.
"""

import json
import os
import shutil
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np

from mendpool.core.evidence.ledger import Block, Names, new_names
from mendpool.index.files import write_all

FORMAT = 2
"""Raised when what is written of a report changes, so that kept blocks are made again."""
_MANIFEST = "manifest.json"

UNREADABLE = (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile)
"""What comes of a file that is gone, cut short or not ours."""


@dataclass
class Kept:
    """What is on disk.

    Args:
        seq: the last line of the feed that is in it.
        anchor: what that line is about, by which another feed is told apart.
        names: the book of names.
        blocks: the files of the blocks, each with how many reports it holds.
    """

    seq: int
    anchor: str
    names: dict[str, Names]
    blocks: list[tuple[str, int]]


def nothing_kept() -> Kept:
    """Return what there is to begin with."""
    return Kept(0, "", new_names(), [])


class LedgerFolder:
    """The place of one version of a pool's ledger; those of other versions are dropped."""

    def __init__(self, place: Path, version: str) -> None:
        """Use a folder of its own in `place`, which is one pool's, for a version."""
        self._place = place
        self.path = place / sha256(f"{FORMAT} {version}".encode()).hexdigest()[:24]

    def load(self) -> Kept:
        """Return what is on disk; nothing where that can't be used."""
        try:
            raw: dict[str, Any] = json.loads((self.path / _MANIFEST).read_bytes())
            names = new_names(json.loads((self.path / raw["names"]).read_bytes()))
            blocks = [(str(name), int(count)) for name, count in raw["blocks"]]
            return Kept(int(raw["seq"]), str(raw["anchor"]), names, blocks)
        except UNREADABLE:
            return nothing_kept()

    def discard(self) -> None:
        """Have nothing on disk count any more."""
        shutil.rmtree(self.path, ignore_errors=True)

    def block(self, name: str) -> Block:
        """Read a block.

        Raises:
            UNREADABLE: it can't be read.
        """
        path = self.path / name
        # Opened here, since NumPy leaves a file open that it can't read.
        with path.open("rb") as file, np.load(file, allow_pickle=False) as columns:
            return Block({column: columns[column] for column in columns.files})

    def blocks(self, names: Sequence[str]) -> Iterator[Block]:
        """Read blocks one after another."""
        return map(self.block, names)

    def keep(self, block: Block, seq: int) -> tuple[str, int]:
        """Write a block; it counts once a manifest names it."""
        self.path.mkdir(parents=True, exist_ok=True)
        name = self._unused(f"block-{seq}", ".npz")
        with (self.path / name).open("xb") as file:
            np.savez(file, allow_pickle=False, **block.columns)
            file.flush()
            os.fsync(file.fileno())
        return name, len(block)

    def publish(self, kept: Kept) -> None:
        """Have this count from now on, and drop all else.

        Raises:
            OSError: the disk is full or can't be written; what was there still counts.
        """
        self.path.mkdir(parents=True, exist_ok=True)
        names = self._unused(f"names-{kept.seq}", ".json")
        book = {what: names.names for what, names in kept.names.items()}
        write_all(self.path / names, json.dumps(book).encode())
        manifest = {
            "seq": kept.seq, "anchor": kept.anchor, "names": names, "blocks": kept.blocks,
        }  # fmt: skip
        fresh = self.path / f"{_MANIFEST}.new"
        write_all(fresh, json.dumps(manifest).encode())
        fresh.replace(self.path / _MANIFEST)
        self._drop_all_but({_MANIFEST, names, *(name for name, _ in kept.blocks)})

    def _unused(self, stem: str, end: str) -> str:
        number = 0
        while (self.path / f"{stem}-{number}{end}").exists():
            number += 1
        return f"{stem}-{number}{end}"

    def _drop_all_but(self, wanted: set[str]) -> None:
        for file in self.path.iterdir():
            if file.name not in wanted:
                with suppress(OSError):
                    file.unlink()
        # Older versions hold words of reports too, some of them taken back since.
        for folder in self._place.iterdir():
            if folder != self.path and folder.is_dir():
                shutil.rmtree(folder, ignore_errors=True)
