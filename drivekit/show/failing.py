"""What is said of how belts fail: causes on each idler, Weibull's law, incidents, signs and what they hide."""

from __future__ import annotations

from collections.abc import Iterator

from drivekit.show import phrases as say
from drivekit.show.phrases import Plain, Ratio

__all__ = [
    "NONE_FAILED",
    "by_setting_words",
    "causes_met",
    "ended_words",
    "incident_words",
    "retired_words",
    "said_at",
    "share_words",
    "sign_words",
    "weibull_words",
]

MOST_WAYS = 3
EXPLORED = "Nobody planned to ask: what stands out here is a hint for next season's test, not proof."
NONE_FAILED = "No belt of known age failed, so no cause has a share."
CAUSE_WORDS = {
    "tooth-jump": "jumped a tooth",
    "tooth-loss": "lost teeth",
    "edge-split": "split at an edge",
    "cord-pull": "pulled a cord",
    "unknown": "broke, cause unknown",
}


def ended_words(cause: str) -> str:
    """Say what a cause did to a belt."""
    return CAUSE_WORDS.get(cause, f"ended by {cause}")


def said_at(findings: Plain, name: str) -> int:
    """Give the run that shares are said at: the horizon, or the oldest run that every level reached before it."""
    levels = findings["causes_by"][name]["levels"].values()
    oldest = min(next(iter(causes.values()))["age"][-1] for causes in levels)
    return int(min(findings["settings"]["horizon_runs"] or oldest, oldest))


def share_words(part: Plain, run: int, did: str = "") -> str:
    """Say a cause's share by a run, and what it did to them if that is given, with limits: ``24 % (15 to 36)``."""
    place = max((place for place, age in enumerate(part["age"]) if age <= run), default=None)
    if place is None:
        return f"0 % {did}" if did else "none"
    share, limits = part["incidence"][place], (part["lower"][place], part["upper"][place])
    said = f"{say.percent(share)} {did}".rstrip()
    return f"{said} (no limits)" if None in limits else f"{said} ({say.percents(*limits).removesuffix(' %')})"


def causes_met(findings: Plain, name: str) -> list[str]:
    """Give the causes of which some belt failed."""
    levels = findings["causes_by"][name]["levels"].values()
    return [cause for cause in next(iter(levels)) if any(any(causes[cause]["incidence"]) for causes in levels)]


def by_setting_words(findings: Plain, name: str = "idler") -> list[str]:
    """Say each cause's share at each level, and how the levels differ by it, as far as that was tested."""
    block = findings["causes_by"][name]
    if "reason" in block:
        return [f"{say.raised(block['reason'])}."]
    words, run, told = say.wording(findings, name), said_at(findings, name), []
    for cause in causes_met(findings, name):
        shares = [f"{share_words(part[cause], run)} {words.phrase(level)}" for level, part in block["levels"].items()]
        test = block["cause_specific"].get(cause, block["cause_specific"])
        said = f"By run {run}, {say.listed(shares)} {ended_words(cause)}"
        if "p" in test:
            p = test["p"] if test.get("p_exact") is None else test["p_exact"]
            said += f"; failing of it alike, they would part so far {say.chance(p)}"
        told.append(f"{said}.")
    if "reason" in block["gray"] and len(block["levels"]) > 1:
        told.append(f"Each cause is tested by its failures a run, not by the shares: {block['gray']['reason']}.")
    told += _hazards_by_cause(findings, name)
    return [*told, EXPLORED] if told else ["No belt failed."]


def _hazards_by_cause(findings: Plain, name: str) -> Iterator[str]:
    """Say what a setting does to each cause's failures a run, others alike; causes with few failures stand together."""
    met, block = causes_met(findings, name), findings["cause_hazards"]
    for group, part in block.items() if "reason" not in block else ():
        if not set(part["causes"]) <= set(met):  # other failures count here
            continue
        whose = f"Of {group} alone" if len(part["causes"]) == 1 else f"Of {group}, together for being few"
        if "reason" in part:
            yield f"{whose}, {say.counted(part['failed'], 'belt')} failed: too few for a ratio."
            continue
        for term in (term for term in say.wording(findings, name).terms if term in part["terms"]):
            found = part["terms"][term]
            ratio = Ratio(term, *(found[key] for key in ("hr", "lower", "upper")))
            said = f"{whose}, other settings alike"
            if ratio.hr is None:
                yield f"{said}, no ratio can be had: {found['reason']}."
            else:
                yield f"{said}, {say.ratio_clause(findings, ratio)}: {_doubt(ratio.lower, ratio.upper)}."


def _doubt(lower: float | None, upper: float | None) -> str:
    """Say how far a ratio that nobody planned to ask for is told."""
    return "a hint" if (upper or 1) < 1 or (lower or 1) > 1 else "too few belts to tell"


def _estimate(found: Plain) -> str:
    """Say an estimate with its limits, an open side as one."""
    lower, upper = (None if found[side] is None else say.decimal(found[side]) for side in ("lower", "upper"))
    if found["estimate"] is None:
        return f"at least {lower}" if lower else "cannot tell"
    sides = f"{lower} to {upper}" if lower and upper else f"{lower} or more" if lower else f"up to {upper}"
    return f"{say.decimal(found['estimate'])} ({sides})"


def weibull_words(findings: Plain) -> list[str]:
    """Say what the law gives for planning, whether it fits, and what shapes would imply where few belts failed."""
    if "reason" in (block := findings["weibull"]):
        return [f"{say.raised(block['reason'])}."]
    told = []
    if block["loglik"] is None:
        told.append(f"No law of life can be fitted: {block['loglik_reason']}.")
    else:
        shape, curve = block["shape"], say.reached(say.said_of(findings["life"]["overall"])["b10"])
        beside = f"; by the curve itself by {curve}, limits that need no law" if curve else ""
        told.append(
            f"By Weibull's law for all belts together, 1 in 10 has failed after {_estimate(block['b10'])} runs "
            f"({say.sure(findings)} in brackets){beside}."
        )
        grows, falls = (shape["lower"] or 0) > 1, shape["upper"] is not None and shape["upper"] < 1
        doing = "the hazard grows" if grows else "the hazard falls" if falls else "it is not told whether hazard grows"
        told.append(f"Its shape is {_estimate(shape)}: {doing} with age.")
        if "reason" in (fit := block["fit"]):
            told.append(f"Whether it fits cannot be told: {fit['reason']}.")
        else:
            fits = "It does not fit" if fit["p"] <= 0.05 else "Nothing speaks against it"
            told.append(f"{fits}: seasons drawn from the law miss it at least so far {say.chance(fit['p'])}.")
    assumed = "An assumption, not a finding: were the shape {}, 1 in 10 would fail by {} runs."
    return told + [assumed.format(shape, _estimate(found)) for shape, found in block.get("assumed", {}).items()]


def incident_words(findings: Plain) -> list[str]:
    """Say what an incident does to the belt's next runs, of any kind and by kind."""
    if "reason" in (block := findings["incidents"]):
        return [f"{say.raised(block['reason'])}."]
    told, after = [], block["after"].items()
    windows = {f"within {say.counted(int(runs), 'run')} after an incident": part for runs, part in after}
    windows |= {f"within 3 runs after {kind}": part for kind, part in block["kinds"].items()}
    for when, part in windows.items():
        said = f"{say.raised(when)}, {part['failed']} of {say.counted(part['runs'], 'run')} ended in a failure"
        if part.get("lower") is None or part["upper"] is None:
            told.append(f"{said}: too few to tell ({part['reason']}).")
            continue
        hr, lower, upper = (say.decimal(part[name]) for name in ("hr", "lower", "upper"))
        times, doubt = f"{hr} times as often as otherwise ({lower} to {upper})", _doubt(part["lower"], part["upper"])
        told.append(f"{said}, {times}, other settings alike: {doubt}.")
    return [*told, EXPLORED]


def sign_words(findings: Plain, column: str, word: str) -> str:
    """Say of how many of the log's belts that failed and looked so what was behind it, with limits of the share."""
    words = findings["signs"][column]
    if "reason" in words:
        return f"{say.raised(words['reason'])}."
    if word not in words:
        return "None of this log's belts that failed looked so."
    ways, said = sorted(words[word]["causes"].items(), key=lambda each: -each[1]["count"]), []
    for cause, one in ways[:MOST_WAYS]:
        said.append(f"{one['count']} {CAUSE_WORDS.get(cause, cause)} ({say.percents(one['lower'], one['upper'])})")
    if rest := sum(one["count"] for _, one in ways[MOST_WAYS:]):
        said.append(f"{rest} otherwise")
    return f"{words[word]['failed']} failed so: {say.listed(said)}."


def _more(lower: float, upper: float) -> str:
    """Say limits of a difference in runs, with more or fewer on each side, or once where both are one number."""
    if say.decimal(lower) == say.decimal(upper):
        return say.amount(lower).removesuffix(" of")
    return say.spread(lower, upper) + (" more" if lower >= 0 else "")


def retired_words(findings: Plain) -> list[str]:
    """Say how far belts taken off as a precaution could move the idlers' difference, and what like belts say."""
    found: Plain = findings.get("retired", {})
    block, told = found.get("idler", {}), []
    for pair, bound in block.get("mean_difference", {}).items():
        later, _, earlier = pair.partition(" minus ")
        words, like = say.wording(findings, "idler"), block["weighted"]
        if "reason" in bound:
            told.append(f"What belts taken off early hide cannot be bounded: {bound['reason']}.")
            continue
        told.append(
            f"Had each belt that came off as a precaution failed on its next run, or had none of them failed by run "
            f"{found['horizon_runs']}, on either side, belts {words.phrase(later)} would have made "
            f"{(size := _more(bound['lower'], bound['upper']))} of their {say.runs(found['horizon_runs'])} "
            f"{'as' if size == 'as many' else 'than'} {words.those(earlier)}, by the curves alone, chance left out."
        )
        weighted = like.get("mean_difference", {}).get(pair, like)
        if "reason" in weighted:
            told.append(f"Belts of a like look cannot stand for them: {weighted['reason']}.")
        else:
            worth = say.listed([f"{part['effective_belts']:.0f} {level}" for level, part in like["levels"].items()])
            told.append(
                f"With belts of a like look and age that ran on in their place, where there are enough: "
                f"{say.decimal(abs(weighted['estimate']))} {'more' if weighted['estimate'] >= 0 else 'fewer'} "
                f"({_more(weighted['lower'], weighted['upper'])}), worth as much as {worth} belts."
            )
    return told
