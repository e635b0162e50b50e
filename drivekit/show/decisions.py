"""Pictures to decide by: the cost of a change age, odds of each belt, belts needed, belts a test needs, fitters."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from drivekit.decide.change_out import mean_failure
from drivekit.life.folds import ENOUGH_AT_RISK
from drivekit.show import decision_words
from drivekit.show.axes import axes_at, framed, parts, plot_height, room_beside, words_at, write_beside
from drivekit.show.decision_words import LOOKS_FIRST, change_words, count_of_20, odds_known, off_words, which_levels
from drivekit.show.forest import Row, rows_drawn
from drivekit.show.paper import HALO, INK, PALE, Picture, Size, ink, noted, width, wrapped
from drivekit.show.phrases import Plain, counted, decimal, listed, sure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = ["change_picture", "fitters_picture", "outlook_picture", "spares_picture", "trial_picture"]

MOST_FITTERS, MOST_ROWS = 8, 6
"""Rows in the pictures of fitters and of odds; a slide has no room for more."""


def change_picture(findings: Plain) -> Picture | None:
    """Draw up what a run costs by the change age, for each idler or for all belts, and how the best one moves."""
    block = findings["change_out"]
    levels = {name: found for name, found in block.get("levels", {}).items() if "reason" not in found}
    leads = [name for name in which_levels(findings) if name in levels] if levels else []
    if not leads:
        return None
    drawn = {name: levels[name] for name in (*leads, *levels) if leads == ["all"] or name != "all"}
    title = " ".join(said for said in change_words(findings) if said.startswith(("Change", "Belts", "When")))
    taken = mean_failure(block) / block["cost_planned"]
    ratio = decimal(taken).removesuffix(".0")
    subtitle = (
        f"What a run costs where belts are changed after so many runs or when they fail, a failure at {ratio} planned "
        "changes."
    )
    labels = {name: "all belts" if name == "all" else name for name in drawn}
    ends = listed([f"{labels[name]} to run {found['runs'][-1]}" for name, found in drawn.items()])
    apart = "Thin: each idler; they are not told apart, and the answer is of all belts."
    moves = {name: levels[name]["by_cost_ratio"] for name in leads if any(levels[name]["by_cost_ratio"]["best_runs"])}
    note = noted(
        findings,
        f"Large: the least cost; small: not told from it ({sure(findings)}).",
        f"Drawn while {ENOUGH_AT_RISK} belts were at risk: {ends}.",
        apart if len(drawn) > len(leads) else "",
        "Second panel: the best change age by what a failure costs; upright: as taken here." if moves else "",
        LOOKS_FIRST,
    )

    def columns(size: Size) -> int:
        return 1 if not moves or size.width < 7 else 2

    def needs(size: Size) -> float:
        return plot_height(size) * (2 if moves and columns(size) == 1 else 1)

    def draw(body: SubFigure, size: Size) -> None:
        right = room_beside(labels.values(), size)
        panels = parts(body, columns(size), 2 if moves else 1)
        axes = framed(panels[0], size, "Changed after, runs", "Cost a run, in planned changes", right=right)
        for place, (name, found) in enumerate(drawn.items()):
            cost = [value / block["cost_planned"] for value in found["cost_per_run"]]
            style, thick = ink(place), size.line if name in leads else 0.6 * size.line
            axes.plot(found["runs"], cost, linewidth=thick, gid=f"curve:{name}", **style)
            if name not in leads:
                continue
            dot: dict[str, Any] = {"linestyle": "none", "marker": "o", "color": style["color"], "clip_on": False}
            alike = [run for run, told in zip(found["runs"], found["not_worse"], strict=True) if told]
            axes.plot(alike, [cost[run - 1] for run in alike], ms=2.6 * size.line, gid=f"spots:{name}", **dot)
            if (best := found["best_runs"]["estimate"]) is not None:
                edge = {"ms": 4.6 * size.line, "mec": "white", "mew": 1.5 * size.thin}
                axes.plot([best], [cost[best - 1]], gid=f"best:{name}", **dot | edge)
        axes.set_ylim(0, None)
        write_beside(axes, size, {f"curve:{name}": label for name, label in labels.items()})
        for panel in panels[1:]:
            axes = framed(panel, size, "A failure costs, planned changes", "Best change age, runs", right=right)
            axes.axvline(taken, color=PALE, linewidth=2 * size.thin, gid="taken")
            for place, (name, move) in enumerate(moves.items()):
                best = [float(run or "nan") for run in move["best_runs"]]
                style = ink(place) | {"linewidth": size.line, "marker": "o", "ms": 2.6 * size.line, "clip_on": False}
                axes.plot(move["ratio"], best, gid=f"moves:{name} by cost", **style)
                axes.set_xlim(0, move["ratio"][-1])
            axes.set_ylim(0, 1.1 * axes.get_ylim()[1])
            write_beside(axes, size, {f"moves:{name} by cost": labels[name] for name in moves})

    return Picture("change_out", title, subtitle, note, draw, needs)


def outlook_picture(findings: Plain) -> Picture | None:
    """Draw up the odds of each running belt for its next runs: a row a belt, a column a number of runs."""
    if "reason" in (block := findings["outlook"]) or not block:
        return None
    rows = block[:MOST_ROWS]
    ahead = [each["runs"] for each in next((belt["next"] for belt in rows if belt["next"]), [])]
    title = decision_words.outlook_words(findings)[1]
    subtitle = (
        "Of 20 such belts, how many outlast so many more runs: settings of the last run held, the hazard of its own "
        f"car ({counted(len(block), 'belt')} still running)."
    )
    more = len(block) - MOST_ROWS
    left_out = f"{counted(more, 'belt')} left out: off too, or with odds as good or better, or none known." * (more > 0)
    note = noted(findings, LOOKS_FIRST, f"Bars: {sure(findings)}. Dash: not known.", left_out)

    def named(size: Size) -> tuple[list[list[str]], int]:
        """Name the rows, and give the lines that stand above each: 0 where names have room beside it."""
        names = [f"{belt['belt']}, {belt['car']}, {counted(belt['age'], 'run')}" for belt in rows]
        if size.width >= 5 and max(width(name, size.text) for name in names) <= 0.4 * size.width:
            return [[name] for name in names], 0
        lines = [wrapped(name, size.width - 2 * size.gap, size.text) for name in names]
        return lines, max(map(len, lines))

    def needs(size: Size) -> float:
        above = named(size)[1]
        return (2.6 + (2.6 + 1.6 * above if above else 3.0) * len(rows)) * size.gap

    def draw(body: SubFigure, size: Size) -> None:
        names, above = named(size)
        left = 0.6 * size.gap if above else 1.6 * size.gap + 1.04 * max(width(name, size.text) for (name,) in names)
        axes = axes_at(body, size, left, 0.6 * size.gap, 0.3 * size.gap, 2.2 * size.gap)
        axes.set(xlim=(0, max(len(ahead), 1)), ylim=(len(rows) - 0.5, -0.5), xticks=(), yticks=(), gid="panel")
        axes.spines[:].set_visible(False)
        head: dict[str, Any] = {"xycoords": axes.get_xaxis_transform(), "ha": "center", "va": "baseline", "color": PALE}
        for column, runs in enumerate(ahead):
            words = f"{runs} more" if size.width < 5 else f"{counted(runs, 'more run')}"
            words_at(axes, words, (column + 0.5, 1), (0, 0.7 * size.text), f"axis:{runs}", size.text, **head)
        for at, (belt, name) in enumerate(zip(rows, names, strict=True)):
            axes.axhline(at - 0.5, color=PALE, linewidth=0.6 * size.thin, gid=f"rule:{belt['belt']}")
            down = -(0.05 + 0.7 * above) * size.text if above else 0.0
            where = (0, at), (0, 1.5 * size.text + down) if above else (-72 * left + 0.6 * size.text, 0)
            look: dict[str, Any] = {"xycoords": axes.get_yaxis_transform(), "va": "bottom" if above else "center"}
            words_at(axes, "\n".join(name), *where, f"label:{belt['belt']}", size.text, **look)
            if "off" in belt:
                said, aside = off_words(belt["off"]), (0.5 * size.text, down)
                words_at(axes, said, (0, at), aside, f"off:{belt['belt']}", size.text, weight="bold")
            for column, entry in enumerate(belt["next"]):
                _cell(axes, size, (column, at), entry, belt["belt"], down)

    return Picture("outlook", title, subtitle, note, draw, needs)


def _cell(axes: Axes, size: Size, place: tuple[int, int], entry: Plain, belt: str, up: float) -> None:
    """Draw one chance in its cell: a track of 20, the limits upon it, the chance, and its count above."""
    from matplotlib.transforms import ScaledTranslation

    column, at = place
    gid = f"interval:{belt}:{entry['runs']}"
    known = odds_known(entry)
    said = count_of_20(entry["survive"]).removeprefix("about ").removesuffix(" in 20") if known else "\N{EN DASH}"
    if known and entry["survive"] == 1:
        said = f"{decision_words.least_of_20(entry)} or more"
    said = said.replace("more than 19", "over 19").replace("fewer than 1", "under 1")
    words_at(axes, said, (column + 0.5, at), (0, up + 0.55 * size.text), f"{gid}:said", size.text, ha="center")
    if not known:
        return
    move = axes.transData + ScaledTranslation(0, (up - 0.65 * size.text) / 72, axes.figure.dpi_scale_trans)
    across = [column + 0.12 + 0.76 * entry[name] for name in ("lower", "upper", "survive")]
    style: dict[str, Any] = {"transform": move, "solid_capstyle": "butt"}
    axes.plot((column + 0.12, column + 0.88), (at, at), color="#D9DDE2", linewidth=2.2 * size.line, **style)
    axes.plot(across[:2], (at, at), color=ink(0)["color"], linewidth=1.1 * size.line, gid=gid, **style)
    dot = {"marker": "o", "ms": 3.4 * size.line, "mec": "white", "mew": size.thin, "color": ink(0)["color"]}
    axes.plot(across[2], at, transform=move, gid=f"{gid}:dot", **dot)


def spares_picture(findings: Plain) -> Picture | None:
    """Draw up the chance that so many new belts are too few."""
    if "reason" in (block := findings["spares"]) or len(block["chance_short"]) < 2:
        return None
    short = {int(count): 100 * chance for count, chance in block["chance_short"].items()}
    subtitle = (
        f"Chance that so many new belts are not enough for {counted(block['runs'], 'run')}, split over the cars as "
        "this season, what the curve owes to few belts included."
    )
    used = f"No belt is used beyond run {block['used_to_run']}."
    dots = f"Dots: {listed([str(count) for count in block['quantiles'].values()])} are enough 5, 9 and 9.5 times in 10."
    note = noted(findings, used, dots)

    def draw(body: SubFigure, size: Size) -> None:
        axes = framed(body, size, "New belts on hand", "Chance that they are not enough, %", right=1.5 * size.gap)
        axes.plot([*short], [*short.values()], drawstyle="steps-post", linewidth=size.line, gid="curve:short", **ink(0))
        for share, count in block["quantiles"].items():
            at = short.get(count, 0.0)
            dot = {"marker": "o", "ms": 3.6 * size.line, "mec": "white", "mew": size.thin, "color": ink(1)["color"]}
            axes.plot(count, at, gid=f"spots:{share}", clip_on=False, zorder=3, **dot)
            if share != "0.95":
                aside = (0.7 * size.text, 0.35 * size.text)
                words_at(axes, str(count), (count, at), aside, f"label:{share}", size.text, va="baseline")
        axes.set(ylim=(0, 102), xlim=(min(short) - 0.5, max(short) + 0.5))

    return Picture("spares", decision_words.spares_words(findings)[0], subtitle, note, draw, plot_height)


def trial_picture(findings: Plain) -> Picture | None:
    """Draw up how often a test of so many belts tells the difference."""
    if "reason" in (block := findings["next_trial"]) or not block["curve"]:
        return None
    belts, told = ([each[name] for each in block["curve"]] for name in ("belts", "told"))
    subtitle = (
        f"Share of {block['seasons']:,} simulated seasons in which the planned analysis tells "
        f"{100 - 100 * block['effect']:.0f} % fewer failures a run, by the belts of both sides together."
    )
    asks = f"Schoenfeld's formula asks for {block['schoenfeld_failures']} failures."
    note = noted(findings, "Level line: the power wanted. Upright: the belts it takes, and those of this season.", asks)

    def draw(body: SubFigure, size: Size) -> None:
        axes = framed(body, size, "Belts of the test", "Seasons in which it is told, %", right=1.5 * size.gap)
        axes.axhline(100 * block["power"], color=PALE, linewidth=1.2 * size.thin, gid="rule:power")
        look = {"linewidth": size.line, "marker": "o", "ms": 2.6 * size.line, **ink(0)}
        axes.plot(belts, [100 * each for each in told], gid="curve:told", clip_on=False, **look)
        uprights = {"takes": block["belts"], "this season": block["belts_this_season"]}
        ends = min(*belts, block["belts_this_season"]), max(*belts, block["belts_this_season"])
        margin = 0.04 * (ends[1] - ends[0])
        axes.set(ylim=(0, 102), xlim=(ends[0] - margin, ends[1] + margin))
        for place, (name, at) in enumerate(uprights.items()):
            if at is None:
                continue
            axes.axvline(at, color=INK, linewidth=1.2 * size.thin, linestyle=(0, (4, 2)), gid=f"line:{name}")
            label = f"{at} belts" if place == 0 else f"this season {at}"
            far = at > sum(ends) / 2
            side: dict[str, Any] = {"ha": "right" if far else "left", "va": "baseline", "bbox": HALO}
            offset = ((-0.4 if far else 0.4) * size.text, (0.6 + 1.3 * place) * size.text)
            words_at(axes, label, (at, 0), offset, f"label:{name}", size.text, **side)

    return Picture("next_trial", decision_words.trial_words(findings)[0], subtitle, note, draw, plot_height)


def fitters_picture(findings: Plain) -> Picture | None:
    """Draw up what each fitter's tensions are above those of all runs; None where no two can be compared."""
    block = findings["repeatability"]
    told = {name: each for name, each in block.get("by_fitter", {}).items() if each["estimate"] is not None}
    if len(told) < 2:
        return None
    often = sorted(told, key=lambda name: -told[name]["runs"])[:MOST_FITTERS]
    from matplotlib.ticker import MaxNLocator

    rows = []
    for name, each in told.items():
        if name in often:
            three = [each[side] for side in ("estimate", "lower", "upper")]
            said = "{:+,.0f} N ({:+,.0f} to {:+,.0f})".format(*three).replace("-", "\N{MINUS SIGN}")
            rows.append(Row(f"interval:{name}", name, said, counted(each["runs"], "run"), *three))
    reach = max(abs(end) for row in rows for end in (row.lower, row.upper) if end is not None)
    ticks = [tick for tick in MaxNLocator(8, steps=(1, 2, 2.5, 5, 10)).tick_values(-reach, reach) if abs(tick) <= reach]
    draw, needs = rows_drawn({"": rows}, (-1.05 * reach, 1.05 * reach), "Tension above that of all runs, N", ticks)
    within = block["within_sd_n"]["estimate"]
    subtitle = (
        f"Tension set by each fitter less that of all {counted(block['runs'], 'run')}, cars held alike. One fitter's "
        f"own tensions spread by {within:,.0f} N from run to run."
    )
    left_out = f"{counted(len(told) - len(rows), 'fitter')} with fewer runs left out." if len(told) > len(rows) else ""
    note = noted(findings, f"Bars: {sure(findings)}, one fitter at a time.", left_out)
    return Picture("repeatability", decision_words.fitters_words(findings)[2], subtitle, note, draw, needs)
