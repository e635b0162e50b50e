"""What moved since the study before: the findings of a log that has grown, beside those it gave when it was shorter.

Every answer moves with every run. How far is said of each; how much that is, by one rule: the answer of now lies within
the limits that the answer of then had, or out of them. The two share their runs, so no interval for the move is given.
Answers that were asked otherwise (other failures, another horizon, other cuts) are not held against each other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from drivekit.show.phrases import Plain, counted, decimal, listed, reached, runs, spread, wording
from drivekit.show.words import sides

__all__ = ["moved", "moved_since"]

ASKED = {"failures": "the causes that count as failures", "confidence": "the confidence", "costs": "the costs"}
OTHERWISE = "not held against each other"
TURNED: Mapping[tuple[Any, ...], str] = {
    (False, True): " It is told now and was not.",
    (True, False): " It was told and is not now.",
    (False, False): " It is told neither now nor then.",
}
COUNTS = {"runs": "run", "belts": "belt", "failed": "failure"}


def moved_since(findings: Plain) -> dict[str, str]:
    """Say what moved since the findings that travel as ``since``; nothing where none do."""
    return moved(findings["since"], findings) if "since" in findings else {}


def moved(old: Plain, new: Plain) -> dict[str, str]:
    """Say which answers moved, and by how much.

    Parameters
    ----------
    old, new : mapping
        Findings of the shorter log, as they were written, and of the longer one.

    Returns
    -------
    dict of str to str
        A sentence for each planned question by its name, and for ``log``, ``median`` and ``change_out``.
    """
    said = {"log": _log(old, new)}
    then, now = old["settings"], new["settings"]
    if otherwise := [words for name, words in ASKED.items() if name in then and then[name] != now[name]]:
        return said | {"settings": f"Asked otherwise then, the answers are {OTHERWISE}: {listed(otherwise)} differ."}
    said |= {name: _question(old, new, name) for name in new["headline"]}
    ages = {
        "median": ("The run by which half of all belts had failed:", ("life", "overall", "median")),
        "change_out": ("The change that costs least, of all belts:", ("change_out", "levels", "all", "best_runs")),
    }
    for name, (what, path) in ages.items():
        before, after = _found(old, *path), _found(new, *path)
        said[name] = _held(what, before, after, reached, lambda by: counted(round(by), "run"))
    return said


def _log(old: Plain, new: Plain) -> str:
    """Say by how much the log has grown, or that it is not that log grown longer."""
    was, now = old["log"], new["log"]
    if was["sha256"] == now["sha256"]:
        return "The log is the same as in the study before."
    then = listed([counted(was[name], noun) for name, noun in COUNTS.items()])
    if not _grown(old, new):
        return f"The log is not that of the study before grown longer (then {then}): other runs move answers as well."
    more = [counted(now[name] - was[name], noun) for name, noun in COUNTS.items() if now[name] > was[name]]
    return f"Since the study before, of {then}, the log has grown by {listed(more) or 'no run'}."


def _grown(old: Plain, new: Plain) -> bool:
    """Tell whether as many belts and failures as then, or more, stand at every age."""
    was, now = (_found(findings, "life", "overall") for findings in (old, new))
    if not was.get("age"):
        return bool(now.get("age"))
    counts = dict(zip(now.get("age", ()), zip(now["at_risk"], now["failed_at"], strict=True), strict=True))
    then = zip(was["age"], was["at_risk"], was["failed_at"], strict=True)
    return all(counts.get(age, (0, 0)) >= (at_risk, 0) and counts[age][1] >= failed for age, at_risk, failed in then)


def _question(old: Plain, new: Plain, name: str) -> str:
    """Say how far the answer to a question moved, and whether it is told now and was not, or the other way about."""
    words, was, now = wording(new, name), _found(old, "headline", name), new["headline"][name]
    if "contrast" not in now:
        return f"{words.title}: {now['reason'].rstrip('.')}."
    later, earlier = sides(now["contrast"])
    what = f"{words.title}, belts {words.phrase(later)} against those {words.brief(earlier)}:"
    cuts = [findings["settings"].get("tension_cuts_n") for findings in (old, new)] if name == "tension" else [0, 0]
    if cuts[0] != cuts[1] or any(was.get(key) != now.get(key) for key in ("contrast", "horizon_runs", "basis")):
        then = f"{_difference(was)}, asked otherwise and {OTHERWISE}" if "contrast" in was else "not answered"
        return f"{what} {_difference(now)}; in the study before, {then}."
    told = tuple(_found(findings, "claims", name).get("told") for findings in (old, new))
    return _held(what, was, now, _difference, decimal) + TURNED.get(told, "")


def _held(what: str, was: Plain, now: Plain, said: Callable[[Plain], str], size: Callable[[float], str]) -> str:
    """Hold an estimate against what it was, and against the limits it had."""
    told = [one.get("estimate") is not None for one in (was, now)]
    each = [said(one) if known else "none yet" for one, known in zip((was, now), told, strict=True)]
    sentence = f"{what} {each[1]}; in the study before, {each[0]}"
    if not all(told):
        return f"{sentence}."
    by, low, high = size(abs(now["estimate"] - was["estimate"])), was.get("lower"), was.get("upper")
    if float(by.split()[0]) == 0:
        return f"{sentence}: it has not moved."
    within = (low is None or low <= now["estimate"]) and (high is None or now["estimate"] <= high)
    return f"{sentence}: moved by {by}, {'within' if within else 'out of'} the limits it had."


def _difference(head: Plain) -> str:
    if head.get("estimate") is None:
        return "cannot be told"
    limits = "limits cannot be told" if head.get("lower") is None else spread(head["lower"], head["upper"])
    sign = "fewer" if head["estimate"] < 0 else "more"
    return f"{decimal(abs(head['estimate']))} {sign} of the {runs(head['horizon_runs'])} ({limits})"


def _found(findings: Plain, *path: str) -> dict[str, Any]:
    """Find a block; empty where an older drivekit did not give it."""
    found: Any = findings
    for name in path:
        found = found.get(name, {})
    return dict(found)
