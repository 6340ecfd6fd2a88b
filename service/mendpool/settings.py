"""What an operator can set: `MENDPOOL_…` variables, then a TOML file, then the defaults."""

import os
from pathlib import Path
from typing import Any

from platformdirs import user_cache_path, user_data_path
from pydantic import Field
from pydantic_settings import (
    BaseSettings,
    InitSettingsSource,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

from mendpool.core.errors import MendpoolError


def _database() -> str:
    return f"sqlite:///{user_data_path('mendpool') / 'pool.sqlite3'}"


_NAMED_FILE = "_FILE"


def _from_named_files(settings: type[BaseSettings]) -> dict[str, Any]:
    """Return the settings whose variable with `_FILE` behind it names a file that holds them.

    Raises:
        MendpoolError: such a file can't be read.
    """
    found: dict[str, Any] = {}
    for field in settings.model_fields:
        variable = f"MENDPOOL_{field.upper()}{_NAMED_FILE}"
        if path := os.environ.get(variable):
            try:
                found[field] = Path(path).read_text("utf-8").strip()
            except (OSError, UnicodeError) as error:
                raise MendpoolError(f"{variable}: the file can't be read.") from error
    return found


class Settings(BaseSettings):
    """Read once, at the start; only main, admin and the demo see it.

    Args:
        database_url: SQLAlchemy URL; SQLite in the platform's data folder by default.
        replica_url: a PostgreSQL that follows the first; questions, search and lists are read
            there as far as it has come.
        host, port: where `serve` listens; loopback by default.
        tls_in_front: whoever can reach the service comes through a proxy with TLS. Without
            it `serve` listens to this machine alone.
        workers: how many processes of `serve` share the port.
        requests_a_minute, reports_a_day, photos_a_day: what one member may do before 429.
        metrics_port: where Prometheus is answered, on loopback only; nowhere by default.
        region: the pool's country as two ISO 3166 letters, for telling its telephone
            numbers from part numbers; without it only numbers with a clear cue are taken out.
        cache_dir: where the checked catalogue and the index are kept; may be thrown away.
    """

    model_config = SettingsConfigDict(
        env_prefix="MENDPOOL_",
        extra="ignore",
        secrets_dir=os.environ.get("MENDPOOL_SECRETS_DIR"),
    )

    database_url: str = Field(default_factory=_database)
    replica_url: str | None = None
    host: str = "127.0.0.1"
    port: int = Field(default=8737, ge=0, le=65535)
    tls_in_front: bool = False
    workers: int = Field(default=1, ge=1, le=64)
    requests_a_minute: int = Field(default=600, ge=1)
    reports_a_day: int = Field(default=500, ge=1)
    metrics_port: int | None = Field(default=None, ge=1, le=65535)
    photos_a_day: int = Field(default=100, ge=0)
    region: str | None = Field(default=None, pattern="^[A-Z]{2}$")
    cache_dir: Path = Field(default_factory=lambda: user_cache_path("mendpool"))
    stop_after_s: int = Field(default=20, ge=1)

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,  # noqa: ARG003 - no .env is read
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Put the TOML file named by `MENDPOOL_SETTINGS` below the variables and secrets."""
        named_files = InitSettingsSource(settings_cls, _from_named_files(settings_cls))
        sources = [init_settings, env_settings, named_files, file_secret_settings]
        named = os.environ.get("MENDPOOL_SETTINGS")
        if named:
            sources.append(TomlConfigSettingsSource(settings_cls, Path(named)))
        return tuple(sources)
