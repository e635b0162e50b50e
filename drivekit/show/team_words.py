"""What a person says before the team: why to believe the answers, what could be wrong, what to do, what to test next.

Every sentence follows from the findings by a rule. To do: a setting whose answer is told is followed, tension where its
curve tells the best place is set among those often run that are not told from it, and what cannot be told is left as it
is. To test: a setting that came together with the season is to be run turn about; one with too few belts is given the
number of belts that would tell a difference of one run 4 times in 5: never the difference that was seen, which is the
larger the luckier. That number scales the belts of this season by (reach of the limits in runs, times (z + .84) / z)
squared, since limits narrow with the root of the belts.
"""

from __future__ import annotations

from math import ceil
from statistics import NormalDist

from drivekit.show import hazard_words
from drivekit.show.phrases import Plain, claim_of, counted, listed, log_words, nearness, runs, wording
from drivekit.show.words import Answer, answers, beaten, sides

__all__ = ["asked_words", "believed_words", "belts_to_tell", "doubts_words", "next_words", "todo_words", "untold_words"]

POWER = 0.8
MOST = 20
"""A test that asks for more than so many times the belts of this season is not worth naming a number for."""


def asked_words(findings: Plain) -> tuple[str, ...]:
    """Say what was asked, of how many belts."""
    questions = " ".join(wording(findings, name).question for name in findings["headline"])
    return questions, log_words(findings["log"])


def believed_words(findings: Plain) -> tuple[str, ...]:
    """Say why to believe the answers: failures behind them, how little hangs on method, one belt or one program."""
    hazard = findings["hazard"]
    said: list[str] = []
    if "reason" in hazard:
        said.append(f"The settings could not be studied all at once: {hazard['reason'].rstrip('.')}.")
    else:
        said += hazard_words.failures_words(findings)
        terms = [term for term, entry in hazard["terms"].items() if "[" in term and entry["coef"] is not None]
        said += [hazard_words.sensitivity_words(findings, term) for term in terms]
        if next(iter(hazard["terms"])) in terms:
            said.append(hazard_words.influence_words(findings))
        said.append(hazard_words.robust_words(findings))
    opinion = findings["second_opinion"]
    if "library" in opinion:
        said.append(
            f"The library {opinion['library']} was given the same runs and repeated "
            f"{counted(len(opinion['compared']), 'result')}; {nearness(opinion['largest_difference'])}."
        )
    else:
        said.append(f"No second program could repeat it: {opinion['reason'].rstrip('.')}.")
    return tuple(said)


def doubts_words(findings: Plain) -> tuple[str, ...]:
    """Say what could be wrong with the answers."""
    said = []
    for name, told in answers(findings).items():
        if told.warning:
            said.append(f"For {wording(findings, name).noun}: {told.warning.removeprefix('but ')}.")
    if "reason" not in findings["hazard"]:
        said += [*hazard_words.unrecorded_words(findings), hazard_words.drift_words(findings)]
    return (*said, *untold_words(findings))


def untold_words(findings: Plain) -> tuple[str, ...]:
    """Say what the log leaves open, however it is read."""
    told = answers(findings).items()
    few, none = (
        listed([wording(findings, name).noun for name, said in told if said.verdict == verdict])
        for verdict in ("too few", "no answer")
    )
    drawn = listed([wording(findings, name).noun for name in findings["as_planned"].get("settings", ())])
    said = [f"For {few} there are too few belts to tell: no difference seen is not the same as none."] if few else []
    said += [f"What {none} did is not told at all: the answer says why."] if none else []
    why = "were chosen by people for their own reasons, not drawn by lot: one kept for hard days looks worse than it is"
    said.append(f"Settings{drawn and f' other than {drawn}'} {why}.")
    if precaution := findings["log"]["causes"].get("precaution"):
        off = f"{counted(precaution, 'belt')} came off as a precaution and count{'s' * (precaution == 1)} as taken off"
        near = "If such belts were about to fail, the lives are too long, most of all where most came off."
        said.append(f"{off} early. {near}")
    return tuple(said)


def todo_words(findings: Plain) -> tuple[str, ...]:
    """Say what to do, setting by setting."""
    return tuple(_todo(findings, name, said) for name, said in answers(findings).items())


def _todo(findings: Plain, name: str, said: Answer) -> str:
    words, head = wording(findings, name), findings["headline"][name]
    hold = " until it is tested turn about" if said.warning else ""
    if said.better:
        than = _behind(findings, name, said.better)
        return f"Run belts {words.phrase(said.better)}{than}{hold}; this speaks of their {runs(head['horizon_runs'])}."
    match said.verdict:
        case "best":
            oldest = findings["life"]["overall"]["age"][-1]
            return f"{hazard_words.best_advice(findings)}{hold}; this speaks of their {runs(oldest)}."
        case "no difference":
            first = runs(head["horizon_runs"])
            return f"Do as suits with {words.noun}: over the {first} it makes no difference as large as a run."
        case "hint":
            return f"Leave {words.noun} as it is until it is tested: there is a hint, not proof."
        case "too few":
            return f"Leave {words.noun} as it is: too few belts to tell."
    if "reason" in findings["life"][name]:
        return f"Write down {words.noun} on every run sheet: without that nothing can be told."
    return f"Leave {words.noun} as it is: it cannot be told from this log."


def _behind(findings: Plain, name: str, better: str) -> str:
    """Say than which of several other levels a level is told to be better; empty where it is than all."""
    words, head = wording(findings, name), findings["headline"][name]
    told = beaten(claim_of(findings, name)).values()
    worse = [level for level in head["levels"] if (better, level) in told]
    worse = worse or [level for level in sides(head["contrast"]) if level != better]  # told by failures a run
    every = len(worse) == len(head["levels"]) - 1
    return "" if every else f" rather than {listed([words.brief(level) for level in worse])}"


def belts_to_tell(head: Plain, belts: int) -> int | None:
    """Reckon from a difference and the belts behind it how many would tell one of a run 4 times in 5.

    None where it would take more than `MOST` times the belts.
    """
    normal = NormalDist()
    z = normal.inv_cdf(0.5 + head["confidence"] / 2)
    times = ((head["upper"] - head["lower"]) / 2 * (z + normal.inv_cdf(POWER)) / z) ** 2
    return ceil(times * belts) if times <= MOST else None


def next_words(findings: Plain) -> tuple[str, ...]:
    """Say what to test next season, and with how many belts."""
    said, every = [], answers(findings)
    for name, told in every.items():
        words, head = wording(findings, name), findings["headline"][name]
        if told.verdict == "no answer":
            continue
        if told.warning:
            said.append(f"Change {words.noun} turn about through the whole season and on every car, not once.")
        if told.verdict not in ("too few", "hint") or head.get("lower") is None:
            continue
        later, earlier = sides(head["contrast"])
        both = f"belts {words.phrase(later)} and {words.brief(earlier)}"
        # each once, in however many levels it ran
        ran = findings["life"]["overall"]["belts"]
        belts = min(sum(head["levels"][level]["belts"] for level in (later, earlier)), ran)
        needed = belts_to_tell(head, belts)
        enough = f"about {needed} belts" if needed else f"more than {MOST * belts} belts"
        if needed and needed <= belts and told.verdict == "too few" and max(-head["lower"], head["upper"]) < 1:
            first = runs(head["horizon_runs"])
            said.append(f"Let {both} run longer: hardly one could lose a run of its {first}.")
        elif needed and needed <= belts:
            said.append(f"A run's difference between {both} would most likely have shown; a smaller one takes more.")
        else:
            takes = f"4 times in 5 takes {enough}; this season had {belts}"
            said.append(f"To tell a run's difference between {both} {takes}.")
    if all(told.verdict == "no answer" for told in every.values()):
        return ("What to test cannot be told, for nothing could be answered.",)
    return tuple(said) or ("Nothing that was asked calls for a test: repeat the study on the next season's log.",)
