"""The parts of the page after the first screen; each takes findings and pictures and gives HTML, or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.show.embed import drawings
from drivekit.show.hazard_words import bends
from drivekit.show.methods import METHODS
from drivekit.show.phrases import chance, confidence_words, counted, listed, runs
from drivekit.show.picture import Picture
from drivekit.show.spoken import setting
from drivekit.show.tables import bullets, endings_table, html, levels_table, overlap_table, paragraph, part, table
from drivekit.show.words import Answer, answer, exploratory_answer

__all__ = [
    "answering",
    "cannot_tell",
    "causes",
    "cautions",
    "closely",
    "computed",
    "further",
    "log",
    "provenance",
    "sentence",
    "together",
]

Plain = Mapping[str, Any]
Pictures = Mapping[str, Picture]


def sentence(said: Answer) -> str:
    """Set an answer: its finding, and lighter, the belts behind it and the warning it carries."""
    parts = [html(said.finding)]
    if said.counts:
        parts.append(f'<span class="counts">{html(said.counts)}</span>')
    if said.warning:
        parts.append(f'<strong class="warning">{html(said.warning)}</strong>')
    text = "; ".join(parts) + "."
    if said.further:
        text += f' {html(said.further)}; <span class="counts">{html(said.further_counts)}</span>.'
    return f'<p class="answer">{text}</p>'


def answering(findings: Plain, drawn: Pictures, name: str) -> Picture | None:
    """Find the picture of an answer: the standardised curves, the curve of tension, or the plain curves."""
    if name == "tension" and bends(findings):
        return drawn.get("tension_curve")
    standardised = findings["headline"][name].get("basis") == "standardised"
    return drawn.get(f"standardised_{name}" if standardised else name)


def closely(findings: Plain, drawn: Pictures) -> str:
    """Set the numbers behind each answer, the larger picture, and how surprising a difference is."""
    parts = []
    if "overall" in drawn:
        parts.append(part("All belts", paragraph(drawn["overall"].title), drawings(drawn["overall"])))
    for name in findings["headline"]:
        block, words = findings["life"][name], setting(name)
        if not block.get("levels"):
            parts.append(part(words.title, paragraph(f"{answer(findings, name)}")))
            continue
        beside = drawn[name] is answering(findings, drawn, name)
        alone = f"By the curves alone, the other settings as they were: {_begun(drawn[name].title)}"
        said = "" if beside else paragraph(alone)
        parts.append(part(words.title, said, drawings(drawn[name], again=beside)))
        parts.append(levels_table(block["levels"], findings["settings"].get("horizon_runs")))
        parts.append(paragraph(" ".join(filter(None, (_surprise(block, words.noun), _left_out(block))))))
    if "differences" in drawn:
        difference = drawn["differences"]
        parts.append(part("All differences side by side", paragraph(difference.title), drawings(difference)))
    return "".join(parts)


def _begun(sentence: str) -> str:
    """Give a sentence for the middle of another."""
    return f"{sentence[0].lower()}{sentence[1:]}"


def _surprise(block: Plain, noun: str) -> str:
    """Say how often chance alone would part the levels so far."""
    test = block["logrank"]
    if "p" not in test:
        return f"Whether chance alone could do this is not asked: {test['reason'].rstrip('.')}."
    exact = test.get("p_exact")
    how = "counted exactly" if exact is not None else "by the log-rank test"
    often = chance(test["p"] if exact is None else exact)
    text = f"If {noun} made no difference, lives at least that far apart would come up {often} by chance ({how})"
    if test.get("p_holm") is not None:
        text += f"; allowing for all the questions asked, {chance(test['p_holm'])}"
    return f"{text}."


def _left_out(block: Plain) -> str:
    parts = []
    if changed := block.get("changed_belts"):
        belts = counted(changed, "belt")
        parts.append(f"{belts} ran in more than one group and counted in each for the runs made there.")
    if blank := block.get("blank_runs"):
        parts.append(f"{counted(blank, 'run')} had this column blank and stayed out.")
    return " ".join(parts)


def causes(findings: Plain, drawn: Pictures) -> str:
    """Set the picture of causes and the count of every ending."""
    figure = f"{paragraph(drawn['causes'].title)}{drawings(drawn['causes'])}" if "causes" in drawn else ""
    return figure + endings_table(findings["log"]["causes"], findings["settings"]["failures"])


def cannot_tell(findings: Plain, drawn: Pictures) -> str:
    """List what nobody should read out of this log."""
    log, settings, overall = findings["log"], findings["settings"], findings["life"]["overall"]
    said = {setting(name).noun: answer(findings, name).verdict for name in findings["headline"]}
    items = []
    if few := [noun for noun, judged in said.items() if judged in ("too few", "no answer")]:
        items.append(
            f"For {listed(few)} there are too few belts to tell; that says something of this log, not of belts."
        )
    items.append(
        "The settings were chosen by people for their own reasons, not drawn by lot: a setting kept for the hard days "
        "looks worse than it is."
    )
    if precaution := log["causes"].get("precaution"):
        belts = counted(precaution, "belt")
        items.append(
            f"{belts} came off as a precaution and {'counts' if precaution == 1 else 'count'} as taken off early. If "
            "such belts were about to fail, the lives above are too long, most of all where most came off."
        )
    if horizon := settings.get("horizon_runs"):
        items.append(f"The differences speak of the {runs(horizon)} only; what comes after rests on few belts.")
    elif "horizon_runs_reason" in settings:
        items.append(f"No mean life is given: {settings['horizon_runs_reason']}.")
    if "age" in overall:
        items.append(f"No belt was seen beyond run {overall['age'][-1]}, and nothing is said beyond it.")
    if log["unknown_age"]:
        items.append(f"{counted(log['unknown_age'], 'belt')} of unknown age stayed out of everything but the counts.")
    if log["unused"]:
        items.append(f"{counted(log['unused'], 'belt')} never ran and stayed out.")
    items.append(
        "The bands say how far chance among belts could move a curve at each run, one run at a time, if the log is "
        "right; they do not cover a wrong log, or a season unlike this one."
    )
    return bullets(items)


def together(findings: Plain, drawn: Pictures) -> str:
    """Set how the runs of each setting fall over the season and over the cars."""
    parts = []
    for name, overlap in findings.get("overlap", {}).items():
        words = setting(name)
        if "reason" in overlap:
            parts.append(part(words.title, paragraph(f"Cannot be told: {overlap['reason']}.")))
            continue
        falls = [
            overlap_table(overlap[among], f"Runs by {words.noun}: the levels {_came(overlap[among])} {by}.")
            for among, by in (("time", "the season"), ("car", "the cars"))
        ]
        parts.append(part(words.title, *falls))
    said = (
        "Where a setting came together with the season or with a car, one cannot be told from the other, and the "
        "answer says so."
    )
    return paragraph(said) + "".join(parts) if parts else ""


def _came(fall: Plain) -> str:
    return "came together with" if fall["together"] else "were spread alike enough over"


def further(findings: Plain, drawn: Pictures) -> str:
    """Set the comparisons that nobody planned."""
    more = findings["life"].get("more", {})
    if not more:
        return ""
    said = (
        "Exploratory: these were looked at because the log has them, not planned beforehand. Among many looks one will "
        "stand out by chance; take what stands out as a question for next season."
    )
    parts = [f'<p class="exploratory">{html(said)}</p>']
    for name, block in more.items():
        title = setting(name).title
        if not block.get("levels"):
            parts.append(part(title, paragraph(f"Cannot be compared: {block['reason']}.")))
            continue
        parts.append(part(title, sentence(exploratory_answer(findings, name)), drawings(drawn[name])))
        parts.append(levels_table(block["levels"], findings["settings"].get("horizon_runs")))
        if left_out := _left_out(block):
            parts.append(paragraph(left_out))
    return "".join(parts)


def cautions(findings: Plain, drawn: Pictures) -> str:
    """Set the cautions."""
    return bullets(CAUTIONS)


def computed(findings: Plain, drawn: Pictures) -> str:
    """Say what every number is and where its formula comes from."""
    settings = findings["settings"]
    confidence = confidence_words(settings["confidence"])
    counts = f"Failures are: {listed(settings['failures'])}. Every interval is {confidence}."
    methods = sorted({head["method"] for head in findings["headline"].values() if "method" in head})
    parts = [paragraph(counts)]
    parts += [f"<h3>{html(how.title)}</h3>{paragraph(how.text)}{paragraph(how.source, 'small')}" for how in METHODS]
    if methods:
        text = f"{listed(methods)}."
        parts.append(f"<h3>The interval in the answers</h3>{paragraph(text[0].upper() + text[1:])}")
    return "".join(parts) + _second_opinion(findings.get("second_opinion", {}))


def _second_opinion(block: Plain) -> str:
    if not block:
        return ""
    if "reason" in block:
        said = paragraph(f"None could be had: {block['reason']}.")
        return f"<h3>A second opinion</h3>{said}"
    compared = block["compared"]
    text = (
        f"The library {block['library']} {block['version']} was given the same runs and repeated {len(compared)} of "
        f"these results ({listed(compared)}); the largest difference was {block['largest_difference']:.1g}."
    )
    return f"<h3>A second opinion</h3>{paragraph(text)}"


def log(findings: Plain, drawn: Pictures) -> str:
    """Say what the log warned of, and what each absent column would have added."""
    block = findings["log"]
    parts = []
    if block.get("warnings"):
        parts.append(f"<h3>Unlikely, but taken as written</h3>{bullets(block['warnings'])}")
    absent = [[entry["column"], entry["adds"]] for entry in block.get("absent", ()) if entry["adds"]]
    if absent:
        parts.append(f"<h3>Columns the log does not have</h3>{table(['column', 'would have added'], absent)}")
    return "".join(parts) or paragraph("Every column is there, and nothing in it looked unlikely.")


def provenance(findings: Plain, drawn: Pictures) -> str:
    """Say which log, which versions and which files these findings are."""
    block, rows = findings["provenance"], []
    rows.append(["log, sha256", findings["log"]["sha256"]])
    rows.append(["drivekit", block["drivekit"]])
    rows.append(["Python", block["python"]])
    rows += [[name, version] for name, version in block.get("packages", {}).items()]
    rows.append(["seed", str(findings["settings"]["seed"])])
    if block.get("started"):
        rows.append(["started", block["started"]])
    rows += [[f"{name}, sha256", digest] for name, digest in block.get("files", {}).items()]
    each = "".join(
        f'<tr><th scope="row">{html(name)}</th><td><code>{html(text)}</code></td></tr>' for name, text in rows
    )
    return f'<table class="record"><tbody>{each}</tbody></table>'
