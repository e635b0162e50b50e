"""What a crew reads: two self-contained HTML files, no network, for a desk, a phone and paper.

The findings, whose first screen answers the planned questions, two to five side by side, each with its picture, say
what to do and what cannot be told; the evidence says why to believe it. What stands where is in their templates; here
are their pictures, their words and the rows of their tables.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.show import (
    curves,
    decision_words,
    decisions,
    endings,
    failing,
    forest,
    hazard_pictures,
    hazard_words,
    readings,
    team_words,
    two_seasons,
    words,
)
from drivekit.show import phrases as say
from drivekit.show.markup import Table, drawing, made_or_said, written
from drivekit.show.paper import Picture
from drivekit.show.phrases import Plain

__all__ = ["answer_picture", "cannot_tell", "first_screen", "levels_table", "overlap_table", "pages", "pictures"]

Pictures = Mapping[str, Picture]
PICTURES: Mapping[str, Callable[[Plain], Picture | None]] = {
    "overall": curves.overall_picture,
    "causes": endings.causes_picture,
    "causes_by": endings.causes_by_picture,
    "weibull": endings.weibull_picture,
    "differences": forest.differences_picture,
    "forest": forest.forest_picture,
    "methods": forest.methods_picture,
    "tension_curve": hazard_pictures.tension_picture,
    "drift": hazard_pictures.drift_picture,
    "surprise": hazard_pictures.surprise_picture,
    "influence": hazard_pictures.influence_picture,
    "risk": hazard_pictures.risk_picture,
    "seasons": two_seasons.seasons_picture,
    "watch": two_seasons.watch_picture,
    "change_out": decisions.change_picture,
    "outlook": decisions.outlook_picture,
    "spares": decisions.spares_picture,
    "next_trial": decisions.trial_picture,
    "repeatability": decisions.fitters_picture,
}
"""The pictures of which a season has one, each by the name of its file; none where it cannot be drawn."""


def _change(findings: Plain) -> list[str]:
    """Say when to change; what a look says is said once, with the odds."""
    return [said for said in decision_words.change_words(findings) if said != decision_words.LOOKS_FIRST]


DECISIONS: Mapping[str, tuple[str, bool, Callable[[Plain], Sequence[str]]]] = {
    "as_planned": ("The test that this season was", True, decision_words.as_planned_words),
    "change_out": ("When to change", True, _change),
    "outlook": (
        "One more run?",
        True,
        lambda findings: (*decision_words.outlook_words(findings), *decision_words.scored_words(findings)[:1]),
    ),
    "spares": ("Belts to have", True, decision_words.spares_words),
    "change_ages": ("When to change at other costs", False, decision_words.change_by_cost_words),
    "odds": ("How good an earlier season's odds were", False, decision_words.scored_words),
    "looks": ("What a look tells of the next run", False, decision_words.look_words),
    "next_trial": ("The size of a test", False, decision_words.trial_words),
    "repeatability": ("Tension from fitter to fitter", False, decision_words.fitters_words),
}
"""Each decision by its key in the findings: its title, whether it stands among the findings (else with the evidence),
and what is said of it; its picture has its name."""


def pictures(findings: Plain) -> dict[str, Picture]:
    """Draw up every picture that the findings hold, by file name without its ending; what cannot be drawn has none."""
    settings = [*findings["headline"], *findings["life"].get("more", {})]
    every: dict[str, Callable[[Plain], Picture | None]] = {
        **{name: partial(curves.comparison_picture, name=name) for name in settings},
        **{f"standardised_{name}": partial(curves.standardised_picture, name=name) for name in settings},
        **PICTURES,
    }
    drawn = {name: made_or_said(name, draw, findings) for name, draw in every.items()}
    drawn |= readings.cars_pictures(findings)
    return {name: picture for name, picture in drawn.items() if picture is not None}


def answer_picture(findings: Plain, drawn: Pictures, name: str) -> Picture | None:
    """Find the picture of a question's answer: standardised curves, the curve of tension, or plain curves."""
    if name == "tension" and hazard_words.best_judged(findings) in ("best", "hint"):
        return drawn.get("tension_curve")
    standardised = findings["headline"].get(name, {}).get("basis") == "standardised"
    return drawn.get(f"standardised_{name}" if standardised else name) or drawn.get(name)


def first_screen(findings: Plain, drawn: Pictures) -> dict[str, Picture | None]:
    """Find the picture of each question's answer: of one height, so no table of who was at risk where one has none.

    Where plain curves are among them, all lives are drawn to the age of the oldest belt.
    """
    shown = {name: answer_picture(findings, drawn, name) for name in findings["headline"]}
    plain = [name for name, picture in shown.items() if picture is drawn.get(name)]
    table, oldest = len(plain) == len(shown), findings["life"]["overall"].get("age", [0])[-1]
    for name, picture in shown.items() if plain else ():
        if name in plain:
            shown[name] = curves.comparison_picture(findings, name, table=table, oldest=oldest)
        elif picture is drawn.get(f"standardised_{name}"):
            shown[name] = curves.standardised_picture(findings, name, oldest=oldest)
    return shown


def _captions(shown: Mapping[str, Picture | None]) -> dict[str, str]:
    """Give the caption of each answer's picture by its name; what several say alike is said under the first."""
    captions: dict[str, str] = {}
    before: set[str] = set()
    for picture in filter(None, shown.values()):
        head, _, tail = picture.subtitle.partition(": ")
        captions[picture.name] = f"{head}, likewise." if tail in before else picture.subtitle
        before |= {tail} - {""}
    return captions


def levels_table(levels: Mapping[str, Plain], horizon: int | None) -> Table:
    """Give the numbers behind a picture of belt life: a row for each level's curve, its mean if there is a horizon."""
    head = ["", "belts", "runs", "failed", "still running or taken off early", "1 in 10 failed by", "half failed by"]
    rows = []
    for name, curve in levels.items():
        counts = (curve["belts"], curve["runs"], curve["failed"], curve["belts"] - curve["failed"])
        row = [name, *(str(count) for count in counts)]
        ages = (say.said_of(curve)[age] for age in ("b10", "median"))
        row += [say.reached(age) or f"not by run {curve['age'][-1]}, the oldest" for age in ages]
        if horizon is not None:
            mean, told = curve["mean_to_horizon"], "cannot tell"
            if mean["estimate"] is not None:
                told = f"{say.decimal(mean['estimate'])} (give or take {say.decimal(mean['se'])})"
            row.append(told)
        rows.append(row)
    return head if horizon is None else [*head, f"runs out of the first {horizon}"], rows, ""


def cannot_tell(findings: Plain) -> list[str]:
    """List what nobody should read out of this log."""
    settings, overall = findings["settings"], findings["life"]["overall"]
    items = [*team_words.untold_words(findings)]
    heads = findings["headline"].values()
    if horizons := sorted({head["horizon_runs"] for head in heads if head.get("horizon_runs")}):
        first = say.runs(horizons[-1]).replace(str(horizons[-1]), " or ".join(map(str, horizons)))
        items.append(f"The differences speak of the {first} only.")
    if "horizon_runs_reason" in settings:
        items.append(f"No mean life is given: {settings['horizon_runs_reason']}.")
    if "age" in overall:
        items.append(f"No belt was seen beyond run {overall['age'][-1]}, and nothing is said beyond it.")
    items.append(
        "The bands say how far chance among belts could move a curve, one run at a time; they do not cover a wrong "
        "log, or a season unlike this one."
    )
    return items


def overlap_table(fall: Plain, caption: str) -> Table:
    """Give how the runs of each level fall over the parts of a season or over the cars."""
    rows = [[level, *(str(runs) for runs in counts)] for level, counts in fall["levels"].items()]
    return ["runs", *fall["columns"]], rows, caption


def _answered_by(findings: Plain) -> dict[str, list[str]]:
    """Give what each kind of interval is of, by the basis of the answer."""
    by_basis: dict[str, list[str]] = {}
    for name, head in findings["headline"].items():
        limits, basis = head, head.get("basis", "curves")
        if name == "tension" and hazard_words.best_judged(findings) in ("best", "hint"):
            limits, basis = findings["tension_curve"]["run_n"], "bend"
        if limits.get("lower") is not None:
            by_basis.setdefault(basis, []).append(say.wording(findings, name).noun)
    return by_basis


def _compared(findings: Plain) -> tuple[list[str], list[str]]:
    """Give the curves that a second program repeated, and the settings at whose levels some of them are."""
    curves = [what for what in findings["second_opinion"]["compared"] if what.startswith("survival curve")]
    settings = [say.wording(findings, name) for name in findings["headline"]]
    return curves, [setting.noun for setting in settings if any(f", {setting.said} " in what for what in curves)]


def pages(findings: Plain, drawn: Pictures | None = None) -> dict[str, str]:
    """Set the findings, plain data, as two HTML pages that link to each other: each the whole file, by its name.

    `drawn` are the findings' `pictures`, where they are drawn up already.
    """
    drawn = drawn or pictures(findings)
    shown, log, failures = first_screen(findings, drawn), findings["log"], findings["settings"]["failures"]
    # called where a section is set, so that one which cannot be told leaves the others standing
    saying = (decision_words, failing, hazard_words, readings, say, team_words, two_seasons, words)
    given: dict[str, Any] = {
        **{module.__name__.rpartition(".")[2]: module for module in saying},
        "answered_by": _answered_by,
        "cannot_tell": cannot_tell,
        "compared": _compared,
        "levels_table": levels_table,
        "overlap_table": overlap_table,
        "standardised": curves.standardised_lives,
        "findings": findings,
        "pictures": drawn,
        "log": {
            **log,
            "name": log.get("name") or "the season",
            "line": say.log_words(log),
            "invented": words.INVENTED if log.get("invented") else "",
            "endings": [[cause, count, "yes" if cause in failures else "no"] for cause, count in log["causes"].items()],
            "absent": [[entry["column"], entry["adds"]] for entry in log.get("absent", ()) if entry["adds"]],
        },
        "answers": words.answers(findings),
        "shown": shown,
        "first": {picture.name: drawing(picture, "phone", "narrow") for picture in shown.values() if picture},
        "captions": _captions(shown),
        "decisions": [
            {"name": name, "title": title, "leads": leads, "said": partial(told, findings)}
            for name, (title, leads, told) in DECISIONS.items()
        ],
        "cautions": CAUTIONS,
    }
    contents: list[str] = []
    evidence = written("evidence.html.j2", **given, contents=contents)
    return {"findings.html": written("findings.html.j2", **given, evidence=contents), "evidence.html": evidence}
