"""The pools of the API's tests, for these too."""

from tests.api.conftest import fresh, pool

__all__ = ["fresh", "pool"]
