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
from drivekit.show import decision_words, hazard_words
from drivekit.show.curves import comparison_picture, overall_picture, standardised_picture
from drivekit.show.decisions import change_picture, fitters_picture, outlook_picture, spares_picture, trial_picture
from drivekit.show.endings import causes_by_picture, causes_picture, weibull_picture
from drivekit.show.failing import retired_words
from drivekit.show.forest import differences_picture, forest_picture, methods_picture
from drivekit.show.hazard_pictures import (
    drift_picture,
    influence_picture,
    risk_picture,
    surprise_picture,
    tension_picture,
)
from drivekit.show.markup import drawing, made_or_said, written
from drivekit.show.paper import Picture
from drivekit.show.phrases import (
    Plain,
    chance,
    claim_of,
    confidence_words,
    counted,
    decimal,
    listed,
    log_words,
    lowered,
    nearness,
    reached,
    runs,
    said_of,
    wording,
)
from drivekit.show.readings import STEERING, cars_pictures, cars_words
from drivekit.show.team_words import todo_words
from drivekit.show.two_seasons import moved_since, seasons_picture, seasons_said, watch_picture
from drivekit.show.words import INVENTED, Answer, answer, exploratory_answer

__all__ = ["answer_picture", "cannot_tell", "first_screen", "levels_table", "overlap_table", "pages", "pictures"]

Pictures = Mapping[str, Picture]
Table = tuple[Sequence[str], Sequence[Sequence[str]], str]
"""Headings, rows and caption, as `drivekit.show.markup.table` takes them."""

PICTURES: Mapping[str, Callable[[Plain], Picture | None]] = {
    "overall": overall_picture,
    "causes": causes_picture,
    "causes_by": causes_by_picture,
    "weibull": weibull_picture,
    "differences": differences_picture,
    "forest": forest_picture,
    "methods": methods_picture,
    "tension_curve": tension_picture,
    "drift": drift_picture,
    "surprise": surprise_picture,
    "influence": influence_picture,
    "risk": risk_picture,
    "seasons": seasons_picture,
    "watch": watch_picture,
    "change_out": change_picture,
    "outlook": outlook_picture,
    "spares": spares_picture,
    "next_trial": trial_picture,
    "repeatability": fitters_picture,
}
"""The pictures of which a season has one, each by the name of its file; none where it cannot be drawn."""

SETTING_PICTURES: Mapping[str, Callable[[Plain, str], Picture | None]] = {
    "": comparison_picture,
    "standardised_": standardised_picture,
}
"""Those of which a setting has one, each by what stands before the setting in the name of its file."""


def _outlook(findings: Plain) -> tuple[str, ...]:
    return (*decision_words.outlook_words(findings), *decision_words.scored_words(findings)[:1])


def _change(findings: Plain) -> list[str]:
    """Say when to change; what a look says is said once, with the odds."""
    return [said for said in decision_words.change_words(findings) if said != decision_words.LOOKS_FIRST]


DECISIONS: Mapping[str, tuple[str, bool, Callable[[Plain], Sequence[str]]]] = {
    "as_planned": ("The test that this season was", True, decision_words.as_planned_words),
    "change_out": ("When to change", True, _change),
    "outlook": ("One more run?", True, _outlook),
    "spares": ("Belts to have", True, decision_words.spares_words),
    "change_ages": ("When to change at other costs", False, decision_words.change_by_cost_words),
    "odds": ("How good an earlier season's odds were", False, decision_words.scored_words),
    "looks": ("What a look tells of the next run", False, decision_words.look_words),
    "next_trial": ("The size of a test", False, decision_words.trial_words),
    "repeatability": ("Tension from fitter to fitter", False, decision_words.fitters_words),
}
"""Each decision by its key in the findings: its title, whether it stands among the findings (else with the evidence),
and what is said of it; its picture has its name."""


def pages(findings: Plain, drawn: Pictures | None = None) -> dict[str, str]:
    """Set the findings, plain data, as two HTML pages that link to each other: each the whole file, by its name.

    What a section says is worked out when it is set, so that one which cannot be told leaves the others standing.
    `drawn` are the findings' `pictures`, where they are drawn up already.
    """
    drawn = drawn or pictures(findings)
    answers = {name: answer(findings, name) for name in findings["headline"]}
    shown = first_screen(findings, drawn)
    words: dict[str, Any] = {
        "pictures": drawn,
        "log": _log(findings["log"]),
        "first": {picture.name: drawing(picture, "phone", "narrow") for picture in shown.values() if picture},
        "questions": [_question(findings, shown[name], drawn.get(name), name, said) for name, said in answers.items()],
        "captions": _captions(shown),
        "todo": lambda: [*todo_words(findings), *decision_words.action_words(findings)],
        "moved": lambda: list(moved_since(findings).values()),
        "standardised": lambda: [_standardised(findings, shown, drawn, name) for name in findings["headline"]],
        "steering": STEERING,
        "cannot_tell": lambda: cannot_tell(findings, answers),
        "overlap": lambda: [_overlap(findings, name, fall) for name, fall in findings.get("overlap", {}).items()],
        "further": lambda: [_further(findings, drawn, name) for name in findings["life"].get("more", {})],
        "cautions": CAUTIONS,
        "hazard": lambda: _hazard(findings),
        "looks_first": decision_words.LOOKS_FIRST,
        "retired": lambda: retired_words(findings),
        "tension": lambda: [hazard_words.tension_words(findings), hazard_words.tension_line_words(findings)],
        "endings": lambda: endings_rows(findings),
        "tracking": lambda: cars_words(findings),
        "seasons": lambda: seasons_said(findings),
        "decisions": [
            {"name": name, "title": title, "leads": leads, "said": partial(say, findings)}
            for name, (title, leads, say) in DECISIONS.items()
        ],
        "computed": lambda: _computed(findings),
        "record": lambda: record_rows(findings),
    }
    contents: list[str] = []
    evidence = written("evidence.html.j2", **words, contents=contents)
    return {"findings.html": written("findings.html.j2", **words, evidence=contents), "evidence.html": evidence}


def pictures(findings: Plain) -> dict[str, Picture]:
    """Draw up every picture that the findings hold, by file name without its ending; what cannot be drawn has none."""
    names = [*findings["headline"], *findings["life"].get("more", {})]
    drawn = {
        **{
            f"{kind}{name}": made_or_said(f"{kind}{name}", draw, findings, name)
            for kind, draw in SETTING_PICTURES.items()
            for name in names
        },
        **{name: made_or_said(name, draw, findings) for name, draw in PICTURES.items()},
        **cars_pictures(findings),
    }
    return {name: picture for name, picture in drawn.items() if picture is not None}


def _log(log: Plain) -> dict[str, Any]:
    """Count what the log holds, and say what in it was unlikely or absent."""
    return {
        "name": log.get("name") or "the season",
        "line": log_words(log),
        "invented": INVENTED if log.get("invented") else "",
        "warnings": log.get("warnings", ()),
        "absent": [[entry["column"], entry["adds"]] for entry in log.get("absent", ()) if entry["adds"]],
    }


def _question(
    findings: Plain, shown: Picture | None, curves: Picture | None, name: str, said: Answer
) -> dict[str, Any]:
    """Answer a question on the first screen, and hold ready what stands behind it: curves, numbers, chance."""
    words, block = wording(findings, name), findings["life"][name]
    found = {"words": words, "said": said, "shown": shown, "curves": curves, "alone": str(said)}
    if curves is None:
        return found
    alone = f"By the curves alone: {lowered(curves.title)}"
    return found | {
        "alone": "" if shown is not None and curves.title == shown.title else alone,
        "levels": levels_table(block["levels"], findings["settings"].get("horizon_runs")),
        "surprise": f"{_surprise(claim_of(findings, name), words.noun)} {_left_out(block)}".rstrip(),
    }


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
            shown[name] = comparison_picture(findings, name, table=table, oldest=oldest)
        elif picture is drawn.get(f"standardised_{name}"):
            shown[name] = standardised_picture(findings, name, oldest=oldest)
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
        ages = (said_of(curve)[age] for age in ("b10", "median"))
        row += [reached(age) or f"not by run {curve['age'][-1]}, the oldest" for age in ages]
        if horizon is not None:
            mean = curve["mean_to_horizon"]
            told = mean["estimate"] is not None
            row.append(f"{decimal(mean['estimate'])} (give or take {decimal(mean['se'])})" if told else "cannot tell")
        rows.append(row)
    return head if horizon is None else [*head, f"runs out of the first {horizon}"], rows, ""


def _surprise(claim: Plain, noun: str) -> str:
    """Say by the test of a question how often chance alone would do as much, and after all that were asked."""
    if "test" not in claim:
        return f"Whether chance alone could do this is not asked: {claim['reason'].rstrip('.')}."
    exact = " (counted exactly)" if claim["test"] == "exact log-rank" else ""
    few = (
        " Corrected for how few belts failed, it is too little for a claim." if claim["told"] > claim["claimed"] else ""
    )
    return (
        f"If {noun} made no difference, one at least as large would come up {chance(claim['p'])} by chance{exact}; "
        f"allowing for all the questions asked, {chance(claim['p_holm'])}.{few}"
    )


def _left_out(block: Plain) -> str:
    """Say which belts count in more groups, and which limits allow for it; and which runs stayed out."""
    parts = []
    if changed := block.get("changed_belts"):
        parts.append(
            f"{counted(changed, 'belt')} ran in more than one group and counted in each for the runs made there: "
            "limits of a difference allow for that, save those by beta products; the test of the curves does not."
        )
    if blank := block.get("blank_runs"):
        parts.append(f"{counted(blank, 'run')} had this column blank and stayed out.")
    return " ".join(parts)


def _standardised(findings: Plain, shown: Mapping[str, Picture | None], drawn: Pictures, name: str) -> dict[str, Any]:
    """Say what the same belts would make once all at each level."""
    words, head = wording(findings, name), findings["headline"][name]
    block = head.get("lives") or findings["standardised"].get(name) or {"reason": head.get("reason", "it has no fit")}
    if "reason" in block:
        said = f"No answer with the other settings alike: {block['reason'].rstrip('.')}."
        return {"title": words.title, "said": said, "picture": None}
    picture = drawn[f"standardised_{name}"]
    each = listed([f"{decimal(curve['mean'])} {words.phrase(level)}" for level, curve in block["levels"].items()])
    return {
        "title": words.title,
        "said": "" if (first := shown.get(name)) and first.name == picture.name else picture.title,
        "picture": picture,
        "means": f"Runs that these belts make out of their first {block['horizon_runs']}: {each}.",
    }


def _hazard(findings: Plain) -> dict[str, Any]:
    """Say what each term does, how it moves with the method, and how the fit sits on its data."""
    hazard = findings["hazard"]
    if "reason" in hazard:
        return {"failures": f"The settings cannot be studied all at once: {hazard['reason']}."}
    return {
        "failures": " ".join(hazard_words.failures_words(hazard)),
        "terms": hazard_words.term_words(findings),
        "methods": hazard_words.methods_table(findings),
        "checks": hazard_words.checks_words(findings),
        "unrecorded": hazard_words.unrecorded_words(findings),
        "interaction": hazard_words.interaction_words(findings),
    }


def endings_rows(findings: Plain) -> list[list[str]]:
    """Give how often each ending was seen, and whether it counts as the belt's failure."""
    failures = findings["settings"]["failures"]
    seen = findings["log"]["causes"].items()
    return [[cause, str(count), "yes" if cause in failures else "no"] for cause, count in seen]


def cannot_tell(findings: Plain, answers: Mapping[str, Answer]) -> list[str]:
    """List what nobody should read out of this log."""
    log, settings, overall = findings["log"], findings["settings"], findings["life"]["overall"]
    items = []
    untold = [name for name, said in answers.items() if said.verdict in ("too few", "no answer")]
    if untold:
        few = listed([wording(findings, name).noun for name in untold])
        items.append(f"For {few} there are too few belts to tell; that says something of this log, not of belts.")
    items.append(
        "The settings were chosen by people for their own reasons, not drawn by lot: a setting kept for the hard days "
        "looks worse than it is."
    )
    if precaution := log["causes"].get("precaution"):
        belts = counted(precaution, "belt")
        items.append(
            f"{belts} came off as a precaution and {'counts' if precaution == 1 else 'count'} as taken off early. If "
            "such belts were about to fail, the lives above are too long, most of all where most came off: the "
            "evidence says how far."
        )
    heads = findings["headline"].values()
    if horizons := sorted({head["horizon_runs"] for head in heads if head.get("horizon_runs")}):
        first = runs(horizons[-1]).replace(str(horizons[-1]), " or ".join(map(str, horizons)))
        items.append(f"The differences speak of the {first} only; what comes after rests on few belts.")
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


def _overlap(findings: Plain, name: str, fall: Plain) -> dict[str, Any]:
    """Say how the runs of a setting fall over the season and over the cars."""
    words = wording(findings, name)
    if "reason" in fall:
        return {"title": words.title, "reason": f"Cannot be told: {fall['reason']}.", "tables": ()}
    tables = []
    for among, by in (("time", "the season"), ("car", "the cars")):
        everywhere = all(min(counts) > 0 for counts in fall[among]["levels"].values())
        apart = f"each level ran in every part of {by}" if everywhere else f"not every level ran in every part of {by}"
        came = f"the levels came together with {by}" if fall[among]["together"] else f"{apart}, not always as often"
        tables.append(overlap_table(fall[among], f"Runs by {words.noun}: {came}."))
    return {"title": words.title, "reason": "", "tables": tables}


def _further(findings: Plain, drawn: Pictures, name: str) -> dict[str, Any]:
    """Say a comparison that nobody planned."""
    title, block = wording(findings, name).title, findings["life"]["more"][name]
    if not block.get("levels"):
        return {"title": title, "reason": f"Cannot be compared: {block['reason']}."}
    return {
        "title": title,
        "reason": "",
        "said": exploratory_answer(findings, name),
        "picture": drawn[name],
        "levels": levels_table(block["levels"], findings["settings"].get("horizon_runs")),
        "left_out": _left_out(block),
    }


def _computed(findings: Plain) -> dict[str, str]:
    """Say what counts as a failure, what every interval is, and what a second program found."""
    settings = findings["settings"]
    return {
        "failures": f"Failures are: {listed(settings['failures'])}.",
        "intervals": f"Every interval is {confidence_words(settings['confidence'])}.",
        "answers": f"{_answer_intervals(findings)} {hazard_words.calibrated_words(findings)}".strip(),
        "opinion": _second_opinion(findings),
    }


def _answer_intervals(findings: Plain) -> str:
    """Say of every answer that has an interval what the interval is."""
    by_basis: dict[str, list[str]] = {}
    for name, head in findings["headline"].items():
        limits, basis = head, head.get("basis", "curves")
        if name == "tension" and hazard_words.best_judged(findings) in ("best", "hint"):
            limits, basis = findings["tension_curve"]["run_n"], "bend"
        if limits.get("lower") is not None:
            by_basis.setdefault(basis, []).append(wording(findings, name).noun)
    said = {
        "standardised": "the same belts are put once all at each level, their other settings held alike, and the "
        "limits come from drawing the belts anew",
        "curves": "the difference is that of the areas under the two curves, and its limits follow from Greenwood's "
        "variance",
        "beta products": "the difference is that of the areas under the two curves, and its limits come from products "
        "of beta variables, for hardly anything failed in one of them",
        "bend": "the best place is the lowest of the curve among the tensions of the middle nine tenths of the runs, "
        "and its ends are the last tensions there that are not told from it",
    }
    return " ".join(f"For {listed(by_basis[basis])}, {text}." for basis, text in said.items() if basis in by_basis)


def _second_opinion(findings: Plain) -> str:
    block = findings["second_opinion"]
    if "reason" in block:
        return f"None could be had: {block['reason']}."
    curves = [what for what in block["compared"] if what.startswith("survival curve")]
    settings = [wording(findings, name) for name in findings["headline"]]
    parted = [words.noun for words in settings if any(f", {words.said} " in what for what in curves)]
    repeated = []
    if curves:
        levels = f" and those at each level of {listed(parted)}" if parted else ""
        repeated.append(f"{counted(len(curves), 'curve')} of belt life (all belts{levels})")
    if len(block["compared"]) > len(curves):
        repeated.append("the study of all settings at once, with Efron's way of taking ties")
    return (
        f"The library {block['library']} {block['version']} was given the same runs and repeated {listed(repeated)}; "
        f"{nearness(block['largest_difference'])}."
    )


def record_rows(findings: Plain) -> list[tuple[str, str]]:
    """Give which log, which versions and which files these findings are."""
    block = findings["provenance"]
    rows = [("log, sha256", findings["log"]["sha256"]), ("drivekit", block["drivekit"]), ("Python", block["python"])]
    rows += block.get("packages", {}).items()
    rows.append(("seed", str(findings["settings"]["seed"])))
    if block.get("started"):
        rows.append(("started", block["started"]))
    return rows + [(f"{name}, sha256", digest) for name, digest in block.get("files", {}).items()]
