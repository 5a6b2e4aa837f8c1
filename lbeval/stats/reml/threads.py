"""One BLAS thread: the blocks are small, and threads that wait for a shared core are far slower than none."""

from __future__ import annotations

from functools import cache, wraps
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
R = TypeVar("R")


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Run a function with one BLAS thread and give back what was set before."""

    @wraps(function)
    def limited(*args: P.args, **kwargs: P.kwargs) -> R:
        with _controller().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return limited
