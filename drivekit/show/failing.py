"""How belts fail, by setting and by law: causes on each idler, Weibull's law, incidents, signs and what they hide."""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING, Any

from drivekit.show.axes import framed, number_axis, parts, plot_height
from drivekit.show.beside import write_beside
from drivekit.show.causes import CAUSE_WORDS
from drivekit.show.paper import Picture, Size, ink, noted, width
from drivekit.show.phrases import (
    Plain,
    chance,
    confidence_words,
    counted,
    decimal,
    listed,
    percent,
    raised,
    runs,
    spread,
    wording,
)
from drivekit.show.step_curves import X_LABEL, whole_ticks

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = [
    "by_setting_words",
    "causes_by_picture",
    "incident_words",
    "retired_words",
    "sign_rows",
    "weibull_picture",
    "weibull_words",
]

EXPLORED = "Nobody planned to ask: what stands out here is a hint for next season's test, not proof."
SEEN = {"break_look": "break", "teeth_look": "teeth", "cord_look": "cord", "edge_look": "edges"}


def _by(findings: Plain, name: str) -> int:
    """Give the run that shares are said at: the horizon, or the oldest run that every level reached before it."""
    levels = findings["causes_by"][name]["levels"].values()
    oldest = min(next(iter(causes.values()))["age"][-1] for causes in levels)
    return int(min(findings["settings"]["horizon_runs"] or oldest, oldest))


def _share(part: Plain, run: int) -> str:
    """Say a cause's share by a run with its limits: ``24 % (15 to 36)``."""
    place = max((place for place, age in enumerate(part["age"]) if age <= run), default=None)
    if place is None:
        return "none"
    share, limits = part["incidence"][place], (part["lower"][place], part["upper"][place])
    if None in limits:
        return percent(share)
    return f"{percent(share)} ({' to '.join(percent(limit).removesuffix(' %') for limit in limits)})"


def _met(findings: Plain, name: str) -> list[str]:
    """Give the causes of which some belt failed."""
    levels = findings["causes_by"][name]["levels"].values()
    return [cause for cause in next(iter(levels)) if any(any(causes[cause]["incidence"]) for causes in levels)]


def by_setting_words(findings: Plain, name: str = "idler") -> list[str]:
    """Say each cause's share at each level, and how the levels differ by it, as far as that was tested."""
    block = findings["causes_by"][name]
    if "reason" in block:
        return [f"{raised(block['reason'])}."]
    words, run = wording(findings, name), _by(findings, name)
    told = []
    for cause in _met(findings, name):
        shares = [f"{_share(causes[cause], run)} {words.phrase(level)}" for level, causes in block["levels"].items()]
        test = block["cause_specific"].get(cause, block["cause_specific"])
        said = f"By run {run}, {listed(shares)} {CAUSE_WORDS.get(cause, f'ended by {cause}')}"
        if "p" in test:
            p = test["p"] if test.get("p_exact") is None else test["p_exact"]
            said += f"; failing of it alike, they would part so far {chance(p)}"
        told.append(f"{said}.")
    if "reason" in block["gray"] and len(block["levels"]) > 1:
        told.append(f"Each cause is tested by its failures a run, not by the shares: {block['gray']['reason']}.")
    return [*told, EXPLORED] if told else ["No belt failed."]


def causes_by_picture(findings: Plain, name: str = "idler") -> Picture | None:
    """Draw up each cause's share by run at each level of a setting, a panel a cause; None where there is none."""
    block = findings.get("causes_by", {}).get(name, {})
    if not block.get("levels") or not (met := _met(findings, name)):
        return None
    levels, run, words = block["levels"], _by(findings, name), wording(findings, name)
    most = max(met, key=lambda cause: max(causes[cause]["incidence"][-1] for causes in levels.values()))
    shares = listed([f"{_share(causes[most], run)} {words.phrase(level)}" for level, causes in levels.items()])
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"By run {run}, {shares} {CAUSE_WORDS.get(most, f'ended by {most}')} ({confidence} in brackets)."
    subtitle = f"Share of belts that each cause has ended by each run, by {words.noun}, the causes competing."
    note = noted(findings, f"Bands: {confidence}, point by point. No curve: no belt failed of it there.", EXPLORED)
    oldest = max(next(iter(causes.values()))["age"][-1] for causes in levels.values())
    sides = (part["incidence"] + part["upper"] for causes in levels.values() for part in causes.values())
    top = 100 * max(value or 0 for side in sides for value in side)
    end = 1.02 * next(limit for limit in (10, 20, 40, 60, 80, 100) if top <= limit + 1e-9)

    def columns(size: Size) -> int:
        return 1 if len(met) == 1 or size.width < 5 else 2 if size.height is None else -(-len(met) // 2)

    def draw(body: SubFigure, size: Size) -> None:
        right = max(width(level, size.text) for level in levels) + 0.6 * size.gap
        for panel, cause in zip(parts(body, columns(size), len(met)), met, strict=True):
            axes = framed(panel, size, X_LABEL, "Belts ended, %", cause, right=right)
            axes.set(xlim=(0, oldest + 0.3), ylim=(0, end))
            axes.set_xticks(whole_ticks(oldest, 2 * size.gap * oldest / 2.0))
            number_axis(axes.yaxis)
            lines: list[Any] = []
            names: list[Any] = []
            for place, (level, causes) in enumerate(levels.items()):
                part, style, gid = causes[cause], ink(place), f"{level}:{cause}"
                if not any(part["incidence"]):
                    continue
                percents = [100 * value for value in part["incidence"]]
                lower, upper = ([100 * (value or 0) for value in part[side]] for side in ("lower", "upper"))
                known = [value is not None for value in part["upper"]]
                look: dict[str, Any] = {"facecolor": (style["color"], 0.13), "edgecolor": (style["color"], 0.45)}
                if any(known):
                    axes.fill_between(
                        part["age"],
                        lower,
                        upper,
                        where=known,
                        step="post",
                        linewidth=0.6 * size.thin,
                        gid=f"band:{gid}",
                        **look,
                    )
                steps = (part["age"][0] - 1, *part["age"]), (0.0, *percents)
                lines += axes.plot(*steps, drawstyle="steps-post", linewidth=size.line, gid=f"curve:{gid}", **style)
                names.append((gid, level, (part["age"][-1], percents[-1]), style["color"]))
            write_beside(axes, size, names, (), lines)

    def needs(size: Size) -> float:
        return -(-len(met) // columns(size)) * (0.8 * plot_height(size) + 1.4 * size.gap)

    return Picture("causes_by", title, subtitle, note, draw, needs)


def _estimate(found: Plain) -> str:
    """Say an estimate with its limits, an open side as one."""
    lower, upper = (None if found[side] is None else decimal(found[side]) for side in ("lower", "upper"))
    if found["estimate"] is None:
        return f"at least {lower}" if lower else "cannot tell"
    sides = f"{lower} to {upper}" if lower and upper else f"{lower} or more" if lower else f"up to {upper}"
    return f"{decimal(found['estimate'])} ({sides})"


def weibull_words(findings: Plain) -> list[str]:
    """Say what the law gives for planning, whether it fits, and what shapes would imply where few belts failed."""
    block = findings["weibull"]
    if "reason" in block:
        return [f"{raised(block['reason'])}."]
    told, confidence = [], confidence_words(findings["settings"]["confidence"])
    if block["loglik"] is None:
        told.append(f"No law of life can be fitted: {block['loglik_reason']}.")
    else:
        shape, curve = block["shape"], findings["life"]["overall"]["b10"]["estimate"]
        beside = f"; by the curve itself by run {curve}" if curve is not None else ""
        told.append(
            f"By Weibull's law for all belts together, 1 in 10 has failed after {_estimate(block['b10'])} runs "
            f"({confidence} in brackets){beside}."
        )
        grows, falls = (shape["lower"] or 0) > 1, shape["upper"] is not None and shape["upper"] < 1
        doing = "the hazard grows" if grows else "the hazard falls" if falls else "it is not told whether hazard grows"
        told.append(f"Its shape is {_estimate(shape)}: {doing} with age.")
        fit = block["fit"]
        if "reason" in fit:
            told.append(f"Whether it fits cannot be told: {fit['reason']}.")
        else:
            fits = "It does not fit" if fit["p"] <= 0.05 else "Nothing speaks against it"
            told.append(f"{fits}: seasons drawn from the law miss it at least so far {chance(fit['p'])}.")
    for shape, found in block.get("assumed", {}).items():
        told.append(
            f"An assumption, not a finding: were the shape {shape}, 1 in 10 would fail by {_estimate(found)} runs."
        )
    return told


def weibull_picture(findings: Plain) -> Picture | None:
    """Draw the law on axes on which it is a straight line, with the curve and its band; None where there is none."""
    block, curve = findings.get("weibull", {}), findings["life"]["overall"]
    if block.get("loglik") is None or "age" not in curve:
        return None
    title, *_, fit = weibull_words(findings)
    counts = f"{counted(block['belts'], 'belt')}, {block['failed']} failed"
    subtitle = f"Share of belts failed after each run, on Weibull's axes ({counts}). {fit}"
    confidence = confidence_words(findings["settings"]["confidence"])
    note = noted(findings, f"Straight: the law. Dots: the curve; its band is {confidence}, point by point.")
    shape, scale = block["shape"]["estimate"], block["scale"]["estimate"]
    points = [
        (age, *(_height(share) for share in three))
        for age, *three in zip(curve["age"], curve["survival"], curve["lower"], curve["upper"], strict=True)
        if all(share is not None and 0 < share < 1 for share in three)
    ]

    def draw(body: SubFigure, size: Size) -> None:
        right = width("curve", size.text) + 0.6 * size.gap
        axes = framed(body, size, f"{X_LABEL} (logarithmic)", "Belts failed, %", right=right)
        oldest = curve["age"][-1]
        ages = (min(0.9, curve["age"][0]), oldest)
        heights = [shape * log(age / scale) for age in ages]
        axes.set(xscale="log", xlim=(ages[0], oldest * 1.02))
        lowest = min([heights[0], *(point[1] for point in points)])
        highest = max([heights[1], *(point[1] for point in points)])
        axes.set_ylim(lowest - 0.6, highest + 0.5)
        shares = [
            share
            for share in (0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 0.8, 0.95, 0.99)
            if lowest - 0.6 < _height(1 - share) < highest + 0.5
        ]
        axes.set_yticks([_height(1 - share) for share in shares], [f"{100 * share:g}" for share in shares])
        number_axis(axes.xaxis, [age for age in (1, 2, 3, 5, 7, 10, 15, 20, 30, 50) if age <= oldest])
        law, seen = ink(0), ink(1)
        x, y, upper, lower = ([point[place] for point in points] for place in range(4))
        look: dict[str, Any] = {"facecolor": (seen["color"], 0.13), "edgecolor": (seen["color"], 0.45)}
        if x:
            axes.fill_between(x, lower, upper, linewidth=0.6 * size.thin, gid="band:curve", **look)
        lines = axes.plot(ages, heights, linewidth=size.line, gid="line:law", **law)
        lines += axes.plot(
            x, y, linestyle="none", marker="o", ms=2.6 * size.line, color=seen["color"], gid="spots:curve"
        )
        names = [("law", "law", (ages[1], heights[1]), law["color"])]
        names += [("curve", "curve", (x[-1], y[-1]), seen["color"])] if x else []
        write_beside(axes, size, names, (), lines)

    return Picture("weibull", title, subtitle, note, draw, plot_height)


def _height(survival: float) -> float:
    """Put a share still running on the axis on which Weibull's law is straight: log(-log S)."""
    return log(-log(survival))


def incident_words(findings: Plain) -> list[str]:
    """Say what an incident does to the belt's next runs, of any kind and by kind."""
    block = findings["incidents"]
    if "reason" in block:
        return [f"{raised(block['reason'])}."]
    told = []
    windows = {f"within {counted(int(runs), 'run')} after an incident": part for runs, part in block["after"].items()}
    windows |= {f"within 3 runs after {kind}": part for kind, part in block["kinds"].items()}
    for when, part in windows.items():
        said = f"{raised(when)}, {part['failed']} of {counted(part['runs'], 'run')} ended in a failure"
        if part.get("lower") is None or part["upper"] is None:
            told.append(f"{said}: too few to tell ({part['reason']}).")
            continue
        limits = (
            f"{decimal(part['hr'])} times as often as otherwise ({decimal(part['lower'])} to {decimal(part['upper'])})"
        )
        doubt = "too few belts to tell" if part["lower"] <= 1 <= part["upper"] else "a hint"
        told.append(f"{said}, {limits}, other settings alike: {doubt}.")
    return [*told, EXPLORED]


def sign_rows(findings: Plain) -> list[list[str]]:
    """Give the inspection card: what was seen on belts that had failed, how many, and the causes behind it."""
    rows = []
    for column, words in findings["signs"].items():
        for word, part in words.items() if "reason" not in words else ():
            ways = sorted(part["causes"].items(), key=lambda each: -each[1]["count"])
            said = [
                f"{one['count']} {CAUSE_WORDS.get(cause, cause)} "
                f"({percent(one['lower']).removesuffix(' %')} to {percent(one['upper'])})"
                for cause, one in ways
            ]
            rows.append([f"{SEEN.get(column, column)}: {word}", str(part["failed"]), listed(said)])
    return rows


def _more(lower: float, upper: float) -> str:
    """Say limits of a difference in runs, with more or fewer on each side."""
    return spread(lower, upper) + (" more" if lower >= 0 else "")


def retired_words(findings: Plain, name: str = "idler") -> list[str]:
    """Say how far belts taken off as a precaution could move a setting's difference, and what like belts say."""
    block = findings.get("retired", {"reason": "it was not asked for"})
    told = []
    for pair, bound in block.get(name, {}).get("mean_difference", {}).items():
        later, _, earlier = pair.partition(" minus ")
        words, like = wording(findings, name), block[name]["weighted"]
        if "reason" in bound:
            told.append(f"What belts taken off early hide cannot be bounded: {bound['reason']}.")
            continue
        told.append(
            f"Had each belt that came off as a precaution failed on its next run, or had none of them failed by run "
            f"{block['horizon_runs']}, on either side, belts {words.phrase(later)} would have made "
            f"{_more(bound['lower'], bound['upper'])} of their {runs(block['horizon_runs'])} than "
            f"{words.those(earlier)}, by the curves alone."
        )
        weighted = like.get("mean_difference", {}).get(pair, like)
        if "reason" in weighted:
            told.append(f"Belts of a like look cannot stand for them: {weighted['reason']}.")
        else:
            worth = listed([f"{part['effective_belts']:.0f} {level}" for level, part in like["levels"].items()])
            told.append(
                f"With belts of a like look and age that ran on in their place, where there are enough: "
                f"{decimal(abs(weighted['estimate']))} {'more' if weighted['estimate'] >= 0 else 'fewer'} "
                f"({_more(weighted['lower'], weighted['upper'])}), worth as much as {worth} belts."
            )
    return told
