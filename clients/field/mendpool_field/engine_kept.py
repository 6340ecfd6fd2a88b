"""The engine, made ready once: the words of the catalogue are kept as they were cut.

Cutting some fifteen thousand phrases is most of the time a cold answer takes. What comes of it
is kept beside the catalogue's checked form, under a name that changes with the catalogue, with
the code that cuts and with the libraries; what can't be read is made again. Reading it back
can make objects of mendpool's own core and arrays, and nothing else.
"""

import hashlib
import io
import pickle
import platform
import zlib
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool.core.diagnosis.engine import Engine

_ARRAYS = frozenset(
    {
        ("numpy", "dtype"),
        ("numpy", "ndarray"),
        ("numpy._core.numeric", "_frombuffer"),
        ("numpy._core.multiarray", "_reconstruct"),
    }
)
_CORE = "mendpool.core."
_CUT_BY = ("text", "catalogue", "diagnosis")
_CATALOGUE = "catalogue"


def ready_engine(catalogue: "Catalogue", cache: Path) -> "Engine":
    """Return an engine of the catalogue without a fit, as `Engine(catalogue)` makes it.

    Args:
        catalogue: the packaged one.
        cache: the folder of what can be made again.
    """
    from mendpool.core.diagnosis.engine import Engine

    kept = cache / f"words-{_version(catalogue)}.bin"
    prepared = _read(kept, catalogue)
    if prepared is not None:
        return Engine(catalogue, prepared=prepared)
    engine = Engine(catalogue)
    _keep(kept, engine)
    return engine


def _version(catalogue: "Catalogue") -> str:
    import numpy as np
    import pydantic

    libraries = (platform.python_version(), np.__version__, pydantic.VERSION)
    digest = hashlib.sha256(repr((catalogue.version, *libraries)).encode())
    for package in _CUT_BY:
        sources = files(f"{_CORE}{package}").iterdir()
        for source in sorted(sources, key=lambda one: one.name):
            if source.name.endswith(".py"):
                digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


class _Writing(pickle.Pickler):
    """Writes parts of the catalogue by name: they are there already."""

    def __init__(self, file: io.BytesIO, catalogue: "Catalogue") -> None:
        super().__init__(file, protocol=5)
        self._catalogue = catalogue

    def persistent_id(self, obj: Any) -> str | None:  # noqa: ANN401 - whatever is met
        return _CATALOGUE if obj is self._catalogue else None


class _Reading(pickle.Unpickler):
    """Reads nothing but objects of the core and arrays, whoever wrote the file."""

    def __init__(self, file: io.BytesIO, catalogue: "Catalogue") -> None:
        super().__init__(file)
        self._catalogue = catalogue

    def persistent_load(self, pid: str) -> Any:  # noqa: ANN401 - pickle's own
        if pid != _CATALOGUE:
            raise pickle.UnpicklingError(pid)
        return self._catalogue

    def find_class(self, module_name: str, global_name: str, /) -> Any:  # noqa: ANN401
        found = super().find_class(module_name, global_name) if _is_ours(
            module_name, global_name
        ) else None  # fmt: skip
        if found is None or (module_name.startswith(_CORE) and not isinstance(found, type)):
            raise pickle.UnpicklingError(f"{module_name}.{global_name}")
        return found


def _is_ours(module_name: str, global_name: str) -> bool:
    here = module_name.startswith(_CORE) and "." not in global_name
    return here or (module_name, global_name) in _ARRAYS


def _read(kept: Path, catalogue: "Catalogue") -> Any | None:  # noqa: ANN401 - checked below
    from mendpool.core.diagnosis.spoken import Spoken
    from mendpool.core.text.reader import Reader

    try:
        found = _Reading(io.BytesIO(zlib.decompress(kept.read_bytes())), catalogue).load()
        reader, spoken = found
    except FileNotFoundError:
        return None
    except Exception:  # noqa: BLE001 - a damaged pickle may raise anything; it is made again
        return None
    return found if isinstance(reader, Reader) and isinstance(spoken, Spoken) else None


def _keep(kept: Path, engine: "Engine") -> None:
    """Keep it for the next command; a full or read-only disk costs time only."""
    from mendpool_field.disk import write_durably

    packed = io.BytesIO()
    words = (engine.plain_reader, engine.word_rates.spoken)
    # Whatever can't be kept costs time only; a test holds that it can.
    with suppress(OSError, pickle.PicklingError, TypeError, AttributeError):
        _Writing(packed, engine.catalogue).dump(words)
        for old in kept.parent.glob("words-*.bin"):
            old.unlink()
        write_durably(kept, zlib.compress(packed.getvalue(), 1))
