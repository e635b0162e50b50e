"""The one way to whatever is drawn at random, on this machine or on many.

Parts are drawn where the answer is wanted, one generator after its order, and only worked out elsewhere; answers come
back in the order of their parts. So whoever works them out, and however many do, the digits are the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from typing import TypeVar

__all__ = ["answers"]

Part = TypeVar("Part")
Answer = TypeVar("Answer")


def answers(
    work: Callable[[Part], Answer], parts: Iterable[Part], executor: Executor | None = None, ahead: int = 8
) -> Iterator[Answer]:
    """Work parts out one after the other, or side by side in an executor.

    Parameters
    ----------
    work : callable
        From a part to its answer, by nothing but the part. For an executor of other processes or machines a function
        of a module, or a `functools.partial` of one.
    parts : iterable
        Taken as they are needed, so that a caller who has enough answers stops by asking for no more.
    executor : concurrent.futures.Executor, optional
        Processes, or the ``get_executor()`` of a Dask client; it stays open. By default this very thread.
    ahead : int
        Parts an executor holds beside the one whose answer is waited for; as many as it has workers keeps all busy.

    Yields
    ------
    object
        The answers in the order of the parts, however they were finished. What `work` raises is raised here.
    """
    if executor is None:
        yield from map(work, parts)
        return
    under_way: deque[Future[Answer]] = deque()
    try:
        for part in parts:
            under_way.append(executor.submit(work, part))
            if len(under_way) > ahead:
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()
    finally:
        for future in under_way:
            future.cancel()
