"""Files of arrays: written for good, mapped when large, known again when damaged."""

import os
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

_SMALL_FILE = 65_536
_PIECE = 1 << 20


def sum_of(path: Path) -> int:
    """Return the checksum of what a file holds (CRC-32: against accidents, not against malice).

    Reading it all has its use: the first questions then find it in the system's memory.
    """
    total = 0
    with path.open("rb", buffering=0) as file:
        while piece := file.read(_PIECE):
            total = zlib.crc32(piece, total)
    return total


def read_array(path: Path) -> NDArray[Any]:
    """Return an array as it was written; a large one is mapped and not read."""
    if path.stat().st_size > _SMALL_FILE:
        # A plain view: slices of numpy's own class for files are slow to make.
        mapped: NDArray[Any] = np.load(path, mmap_mode="r", allow_pickle=False)
        return mapped.view(np.ndarray)
    array: NDArray[Any] = np.load(path, allow_pickle=False)
    return array


def write_array(path: Path, array: NDArray[Any]) -> None:
    """Write an array so that it lasts."""
    with path.open("wb") as file:
        np.save(file, array, allow_pickle=False)
        file.flush()
        os.fsync(file.fileno())


def write_all(path: Path, content: bytes) -> None:
    """Write a file so that it lasts."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def sync(folder: Path) -> None:
    """Make the names in a folder last; systems that can't open a folder do without."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except PermissionError:
        return
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
