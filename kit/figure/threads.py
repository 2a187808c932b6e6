"""Linear algebra on one thread: matrices this small lose more in waiting than they gain."""

from __future__ import annotations

from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from threadpoolctl import ThreadpoolController


@cache
def _controller() -> Any:
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[Any]:
    """Keep the linear algebra within the block on one thread."""
    limited: AbstractContextManager[Any] = _controller().limit(limits=1)
    return limited
