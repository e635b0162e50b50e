"""Results as plain data: what JSON can hold.

A number that cannot be had is null and its reason stands beside it; nan and infinity never leave this module.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from math import isfinite
from typing import Any, ParamSpec, TypeVar

import numpy as np

from drivekit.life.folds import Estimate

__all__ = ["Block", "as_block", "entry", "lone", "parts", "plain"]

Block = dict[str, Any]
"""A block of the findings."""

Answer = TypeVar("Answer")
Given = ParamSpec("Given")


def as_block(answer: Callable[Given, Answer | str]) -> Callable[Given, Answer | Block]:
    """Make a block of what a function answers, as plain data, and of the reason where it gives one instead.

    An answer whose numbers do not settle is a reason, too: it leaves the rest standing.
    """

    @wraps(answer)
    def block(*given: Given.args, **named: Given.kwargs) -> Answer | Block:
        try:
            found = answer(*given, **named)
        except (ArithmeticError, np.linalg.LinAlgError, RuntimeError) as unsettled:  # the last: scipy's, of a search
            found = str(unsettled).rstrip(".") or "its numbers did not settle"
        told: Answer | Block = {"reason": found} if isinstance(found, str) else plain(found)
        return told

    return block


def plain(value: Any) -> Any:
    """Give rows, objects and estimates as plain data; a number that is missing, nan or infinite becomes None."""
    if isinstance(value, Estimate):
        return entry(value, "estimate", "lower", "upper")
    if isinstance(value, Mapping):
        return {name: plain(each) for name, each in value.items()}
    if isinstance(value, np.ndarray):
        listed = value.astype(object)
        if value.dtype.kind == "f":
            listed[~np.isfinite(value)] = None
        return listed.tolist()
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not isfinite(value) else value


def parts(result: Any, *names: str) -> Block:
    """Give the named parts of a result as an object."""
    return {name: getattr(result, name) for name in names}


def lone(name: str, value: Any, reason: str | None) -> Block:
    """Give a number that stands alone, and where it is missing the reason beside it."""
    return {name: value} if value is not None else {name: None, f"{name}_reason": reason}


def entry(result: Any, *names: str, otherwise: str | None = None) -> Block:
    """Give the named numbers of a result as an object that keeps its keys and gains a reason when any is null.

    The reason is the result's own ``reason``, or `otherwise` where it gives none.

    Raises
    ------
    ValueError
        If a number is missing and no reason says why.
    """
    block: Block = plain(parts(result, *names))
    if None in block.values():
        block["reason"] = result.reason or otherwise
        if not block["reason"]:
            raise ValueError(f"{type(result).__name__} has a null and no reason for it")
    return block
