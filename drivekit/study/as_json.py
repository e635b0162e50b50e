"""Results as plain data: what JSON can hold.

A number that cannot be had is null and its reason stands beside it; nan and infinity never leave this module.
"""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from typing import Any, ParamSpec, TypeVar

from numpy.typing import ArrayLike

__all__ = ["Block", "entry", "estimate", "number", "numbers", "settled"]

Block = dict[str, Any]
"""A block of the findings."""

Answer = TypeVar("Answer")
Given = ParamSpec("Given")


def number(value: float | None) -> float | int | None:
    """Give a plain number; what is missing, nan or infinite becomes None."""
    if value is None or not isfinite(value):
        return None
    return value if isinstance(value, int) else float(value)


def numbers(values: ArrayLike) -> list[float | int | None]:
    """Give a list of plain numbers, None where there is none."""
    import numpy as np

    listed: list[float | int] = np.asarray(values).tolist()
    return [number(value) for value in listed]


def entry(result: Any, *names: str, otherwise: str | None = None) -> Block:
    """Give the named numbers of a result as an object that keeps its keys and gains a reason when any is null.

    The reason is the result's own ``reason``, or `otherwise` where it gives none.

    Raises
    ------
    ValueError
        If a number is missing and no reason says why.
    """
    block: Block = {name: number(getattr(result, name)) for name in names}
    if None in block.values():
        reason = result.reason or otherwise
        if not reason:
            raise ValueError(f"{type(result).__name__} has a null and no reason for it")
        block["reason"] = reason
    return block


def estimate(result: Any) -> Block:
    """Give an estimate with its limits."""
    return entry(result, "estimate", "lower", "upper")


def settled(block: Callable[Given, Answer], *given: Given.args, **named: Given.kwargs) -> Answer | Block:
    """Give a block, or the reason why it could not be had: one that does not settle leaves the rest standing."""
    import numpy as np

    try:
        return block(*given, **named)
    except (ArithmeticError, np.linalg.LinAlgError, RuntimeError) as unsettled:  # the last: scipy's, of a search
        return {"reason": str(unsettled).rstrip(".") or "its numbers did not settle"}
