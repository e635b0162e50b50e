"""What a crew does with the findings: when to change, which belt runs, how many to order, what to test.

Chances are said in counts, of 20 belts that are alike. Levels of the idler are spoken of apart only where the study
tells them apart (``claims``). Beside every "one more run" stands the caution: a belt that looks off comes off.
"""

from __future__ import annotations

from collections.abc import Mapping

from drivekit.cautions import CAUTIONS
from drivekit.decide.next_move import in_twenty
from drivekit.decide.outlook import LOOKS
from drivekit.life.folds import ENOUGH_AT_RISK
from drivekit.show.phrases import Plain, chance, counted, decimal, listed, percent, percents, raised, spoken, wording
from drivekit.show.team_words import MOST
from drivekit.units import Units

__all__ = [
    "LOOKS_FIRST",
    "OFF",
    "action_words",
    "as_planned_words",
    "change_by_cost_words",
    "change_words",
    "count_of_20",
    "fitters_words",
    "look_words",
    "meeting_rows",
    "meeting_words",
    "odds_known",
    "off_words",
    "outlook_words",
    "rule_words",
    "scored_words",
    "spares_words",
    "trial_words",
    "which_levels",
]

LOOKS_FIRST = CAUTIONS[-1]
MOST_BELTS = 8
"""Belts spoken of one by one, the worst first."""

OFF = {(look["column"], look["word"]): look["off"] for look in LOOKS if "off" in look}
"""What a belt that comes off has, by column and word."""
MARKS = {look["column"]: look["mark"] for look in LOOKS if "mark" in look}
"""What may tell of the next run, by column."""
LAST_SEEN = f"the last that {ENOUGH_AT_RISK} belts made"
SLACK_N = 100
"""A loss of tension as large as runs differ in; what 1,000 N more would do was hardly ever seen."""


def count_of_20(share: float) -> str:
    """Say a chance as a count: ``about 3 in 20``; none is said as none or all, for nothing seen is no promise."""
    return "none has failed so far" if share == 1 else in_twenty(share)


def odds_known(entry: Plain) -> bool:
    """Whether a chance can be said: one whose limits are not none and all, or whose least is not none."""
    return entry["survive"] is not None and (least_of_20(entry) > 0 or round(20 * entry["upper"]) < 20)


def least_of_20(entry: Plain) -> int:
    """Give the least of 20 belts that go on, as the lower limit has it: never all, for nothing seen is no promise."""
    return min(int(20 * entry["lower"]), 19)


def _odds_words(entry: Plain) -> str:
    """Say the chance of some more runs with its limits; where none failed on the way so far, only the least."""
    if entry["survive"] is None:
        return f"not known: {entry['reason']}"
    if not odds_known(entry):
        return "not known: too few belts went on there"
    if entry["survive"] == 1:
        return f"none has failed on such runs yet: at least {least_of_20(entry)} in 20"
    return f"{count_of_20(entry['survive'])} ({least_of_20(entry)} to {round(20 * entry['upper'])})"


def off_words(off: Mapping[str, str]) -> str:
    """Say why a belt comes off: ``OFF: a split edge``."""
    return f"OFF: {listed([OFF.get(look, look[1]) for look in off.items()])}"


def which_levels(findings: Plain) -> list[str]:
    """Name the curves that are spoken of: each idler's where the idlers are told apart, else that of all belts."""
    told = findings.get("claims", {}).get("idler", {}).get("claimed")
    levels = [level for level in findings["change_out"]["levels"] if level != "all"]
    return levels if told and len(levels) > 1 else ["all"]


def _which(level: str) -> str:
    return "belts" if level == "all" else f"belts on the {level} idler"


def change_words(findings: Plain) -> tuple[str, ...]:
    """Say when to change, how sure that is, and at which costs."""
    if "reason" in (block := findings["change_out"]):
        return rule_words(findings)
    costs = [block[name] for name in ("cost_failure", "cost_elimination") if name in block]
    times = [f"{cost / block['cost_planned']:.3g} times" for cost in costs]
    taken = f"A failure is taken to cost {times[0]} a planned change"
    if why := block.get("elimination_share_reason"):
        taken += f", in eliminations too: {why}"
    elif len(times) > 1:
        taken += f", in a round of eliminations {times[1]}; change after a round that matters, never before it"
    return (*rule_words(findings), f"{taken}; --costs takes your own.", LOOKS_FIRST)


def change_by_cost_words(findings: Plain) -> tuple[str, ...]:
    """Say how the best change age moves with the costs."""
    levels, said = findings["change_out"].get("levels", {}), []
    for level in which_levels(findings) if levels else ():
        if "reason" in levels[level]:
            continue
        ratios, best = (levels[level]["by_cost_ratio"][name] for name in ("ratio", "best_runs"))
        each = [
            f"{'none' if run is None else counted(run, 'run')} from {decimal(ratio).removesuffix('.0')}"
            for place, (ratio, run) in enumerate(zip(ratios, best, strict=True))
            if not place or run != best[place - 1]
        ]
        on = "" if level == "all" else f" on the {level} idler"
        said.append(f"The best change age{on} by what a failure costs in planned changes: {', '.join(each)}.")
    return tuple(said)


def rule_words(findings: Plain) -> tuple[str, ...]:
    """Say when to change and how many have failed by then, and nothing of costs."""
    if "reason" in (block := findings["change_out"]):
        return (f"When to change cannot be told: {block['reason']}.",)
    parts, said = round(1 / block["risk"]), []
    # an accepted share is said as a crew does, 1 in 10, where it is such a part
    share = f"1 in {parts}" if abs(parts * block["risk"] - 1) < 1e-9 else percent(block["risk"])
    for level in which_levels(findings):
        found = block["levels"][level]
        if "reason" in found:
            said.append(f"When to change {_which(level)} cannot be told: {found['reason']}.")
            continue
        most, first = found["runs_at_risk_by_beta"], "first" if level == "all" else f"{level} idler's first"
        made = "run" if most["estimate"] == 1 else counted(most["estimate"] or 0, "run")
        limits = f"limits {most['lower']} {'or more' if most['upper'] is None else 'to {upper}'.format(**most)}"
        few = f"At most {share} have failed within the {first} {made} ({limits})."
        many = f"More than {share} of {_which(level)} failed on their first run ({limits} runs until so many had)."
        said += [f"{raised(_change(level, found))}.", few if most["estimate"] else many]
    return tuple(said)


def _change(level: str, found: Plain, also: str = "") -> str:
    """Say when to change, or that no planned change pays: with what cannot be told from it, or what else is done."""
    best = found["best_runs"]
    alike = [run for run, told in zip(found["runs"], found["not_worse"], strict=True) if told]
    first, last = alike[0], alike[-1]
    if best["estimate"] is None and first == last:
        return f"{_which(level)} are run until a look takes them off: {best['reason']}"
    if best["estimate"] is None or found["not_worse"][-1]:
        # then changing later than was seen, or never, may be as good
        least = f"a change after {counted(best['estimate'], 'run')} costs" if best["estimate"] else "running on costs"
        off = also and "; they come off when a look says off"
        doubt = f"{least} least, but from {first} to {last} none is told to cost more"
        return f"when to change {_which(level)} cannot be told: {doubt}{off}"
    good = f" ({first} to {last} may be as good)" if first < last else ""
    return f"change {_which(level)} after {counted(best['estimate'], 'run')}{good}{also}"


def outlook_words(findings: Plain, most: int = MOST_BELTS) -> tuple[str, ...]:
    """Say of each running belt what it may still do, the worst first, and before all that looks decide."""
    if "reason" in (block := findings["outlook"]):
        return (f"No odds can be given: {block['reason']}.",)
    if not block:
        return ("No belt of known age is still running.",)
    said = [LOOKS_FIRST]
    for belt in block[:most]:
        which = f"{belt['belt']} ({belt['car']}, {counted(belt['age'], 'run')}, {belt['idler']})"
        if "off" in belt:
            said.append(f"{which}: {off_words(belt['off'])}.")
            continue
        one, three = belt["next"][0], belt["next"][2]
        more = "" if three["survive"] is None else f"; three more, {_odds_words(three)}"
        said.append(f"{which}: one more run, {_odds_words(one)}{more}.")
    off, rest = ([belt["belt"] for belt in block[most:] if ("off" in belt) == comes] for comes in (True, False))
    said += [f"OFF by their looks, too: {listed(off)}."] * bool(off)
    said += [f"{counted(len(rest), 'more belt')}, with odds as good or better, or none known."] * bool(rest)
    return tuple(said)


def look_words(findings: Plain) -> tuple[str, ...]:
    """Say whether a look after a run tells of the next one."""
    if "reason" in (block := findings["looks"]):
        return (f"What a look tells of the next run cannot be asked: {block['reason']}.",)
    said = []
    for name in filter(MARKS.get, block):
        mark, hr = MARKS[name], block[name].get("hr", block[name])
        if hr.get("estimate") is None:
            said.append(f"{raised(mark)}: {hr['reason']}.")
            continue
        after, other = ("{failed} of {runs}".format(**block[name][side]) for side in ("with", "without"))
        said.append(f"After {mark} {after} failed on the next run, else {other}: {_looked_for(hr)}.")
    return tuple(said)


def _ratio(hr: Plain, steps: float = 1.0) -> str:
    """Say a ratio of failures with its limits, of so many of its steps."""
    limits = " to ".join("no end" if hr[side] is None else decimal(hr[side] ** steps, 2) for side in ("lower", "upper"))
    return f"{decimal(hr['estimate'] ** steps, 2)} times as many ({limits})"


def _looked_for(hr: Plain, steps: float = 1.0) -> str:
    """Say a ratio that nobody planned to ask for: never more than a hint."""
    sure = (hr["lower"] or 0) > 1 or (hr["upper"] is not None and hr["upper"] < 1)
    return f"{_ratio(hr, steps)}, {'a hint, looked for in several places' if sure else 'cannot be told from chance'}"


def scored_words(findings: Plain) -> tuple[str, ...]:
    """Say how good an earlier season's odds were on this one's runs; if they did not beat the base rate, so."""
    if "against" not in findings:
        return ()
    found, before = findings["against"]["odds"], findings["against"]["log"]["name"]
    if "reason" in found:
        return (f"The odds by {before} cannot be scored: {found['reason']}.",)
    gain = found["gain"]
    better, worse = gain["lower"] > 0, gain["upper"] < 0
    how = "were better than" if better else "were worse than" if worse else "did not beat"
    verdict = f"the odds {how} saying the same of every belt{': do not go by them' if worse else ''}"
    scored = f"Odds by {before}, scored on {found['runs']} of the {found['made']} runs of {findings['log']['name']}"
    scores = f"{found['brier']:.4f}, of the base rate {found['base_brier']:.4f}"
    brier = f"Mean square of what was foretold less what came (Brier): {scores}"
    thirds = [f"{percent(each['foretold'])} foretold, {percent(each['failed'])} failed" for each in found["thirds"]]
    return (
        f"{scored}: {verdict}.",
        f"{brier}; difference {gain['estimate']:.4f} ({gain['lower']:.4f} to {gain['upper']:.4f}).",
        f"A third of the runs each, from least to most risk: {'; '.join(thirds)}.",
    )


def spares_words(findings: Plain) -> tuple[str, ...]:
    """Say how many belts to have."""
    if "reason" in (block := findings["spares"]):
        return (f"How many belts to have cannot be told: {block['reason']}.",)
    runs, enough, policy = block["runs"], block["quantiles"], block["policy_runs"]
    off = sum(findings["log"]["causes"].values()) - findings["log"]["failed"]
    besides = ", not counting belts that come off for other reasons" * bool(off)
    how = f"if belts are used up to run {block['used_to_run']}, {LAST_SEEN}"
    if policy:
        how = f"if all belts are changed after {counted(policy, 'run')}"
    on = {name: car for name, car in block["cars"].items() if car["belt"] and car["age"] < block["used_to_run"]}
    going = [f"{car['belt']} on {name} at {car['age']}" for name, car in on.items()]
    return (
        f"For {counted(runs, 'more run')}, {how}: {enough['0.9']} new belts are enough 9 times in 10{besides}.",
        f"Enough 19 times in 20 are {enough['0.95']}; {block['mean']:.0f} are used on average.",
        f"Counted on from the belts that go on: {listed(going)}." if going else "Every car starts with a new belt.",
        *[f"This season {off} of {counted(findings['log']['belts'], 'belt')} came off for other reasons."] * bool(off),
    )


def meeting_words(block: Plain) -> tuple[str, ...]:
    """Say what a meeting's plan brings and what it stands on."""
    if "reason" in block:
        return (f"Which belt goes on for which round cannot be told: {block['reason']}.",)
    rounds, end = len(block["rounds"]), block["used_to_run"]
    why = "where it is changed" if block["change_after"] == end else LAST_SEEN
    early = f", nor before run {block['from_run']}: too few were seen there" if block["from_run"] > 1 else ""
    every = "The one round" if rounds == 1 else f"All {rounds} rounds"
    clean = f"{every} without losing one to a belt: {_odds_words(block['all_rounds'])}"
    return (
        f"{clean}; {decimal(block['lost'])} of them lost on average.",
        f"Chances are of {_which(block['level'])} of that age, all on one car set up alike.",
        f"No belt is run beyond run {end}, {why}{early}.",
        LOOKS_FIRST,
    )


def meeting_rows(block: Plain) -> list[tuple[str, str, str, str]]:
    """Give a meeting's rounds: what each is, the belt to run, the chance that it makes the round, and what then."""
    rows = []
    for each in block["rounds"]:
        belt, makes, then = "no belt left", "", ""
        if each["belt"] is not None:
            belt, makes = f"{each['belt']}, run {each['run']}", count_of_20(each["survive"])
            after = each["instead"] or ("no belt is left" if each is not block["rounds"][-1] else "")
            then = "the meeting is over" if each["ends"] else after
        rows.append((each["round"], belt, makes, then))
    return rows


def trial_words(findings: Plain) -> tuple[str, ...]:
    """Say what a test next season needs and what it can show."""
    if "reason" in (block := findings["next_trial"]):
        return (f"A test cannot be sized: {block['reason']}.",)
    fewer, power = percent(1 - block["effect"]), f"{10 * block['power']:.0f} times in 10"
    gain = f"{decimal(block['gain_runs'])} more of the first {block['out_of_runs']} runs"
    if block["belts"] is None:
        first = f"{fewer} fewer failures a run, {gain}, cannot be seen {power}: {block['belts_reason']}."
    else:
        first = (
            f"To see {fewer} fewer failures a run, {gain}, {power} takes about {block['belts']} belts, half of them on "
            f"each side, and some {block['runs']:,} runs, no belt changed early; this season had "
            f"{block['belts_this_season']} belts."
        )
    small, had = block["smallest_effect"], block["belts_this_season"]
    if small["estimate"] is None:
        least = f"What {had} belts can show: {small['reason']}."
    else:
        less = f"{percent(1 - small['estimate'])} fewer failures a run"
        limits = percents(1 - small["upper"], 1 - small["lower"])
        longer = f"{decimal(block['smallest_gain_runs'])} more of the first {block['out_of_runs']} runs"
        least = f"The least that {had} belts show {power} is {less} ({limits}), {longer}."
    size = f"Where there is no difference such a test tells one {chance(block['size'])}. " if "size" in block else ""
    return (first, least, f"{size}Schoenfeld's formula asks for {block['schoenfeld_failures']} failures.")


def as_planned_words(findings: Plain) -> tuple[str, ...]:
    """Say what a test that was drawn by lot tells, as it was planned; nothing where the log was no test."""
    if "reason" in (block := findings["as_planned"]):
        return ()
    said = [f"This season was a test: {counted(block['belts'], 'belt')} drawn by lot, {block['moved']} of them moved."]
    for name, levels in block["settings"].items():
        words = wording(findings, name)
        for level, found in levels.items():
            hr, counts = found["hr"], "{failed} of {belts}"
            sides = f"{counts.format(**found['drawn'])} failed, of the others {counts.format(**found['others'])}"
            if hr["estimate"] is None:
                said.append(f"Belts drawn {words.phrase(level)}: {sides}; no ratio: {hr['reason']}.")
                continue
            own = "told, and drawn by lot it is the setting's own doing"
            verdict = own if found["told"] else "too few belts to tell"
            times = _ratio(hr).replace("many", "many failures a run", 1)
            said.append(f"Belts drawn {words.phrase(level)}: {sides}; {times}: {verdict}.")
    return tuple(said)


def fitters_words(findings: Plain) -> tuple[str, ...]:
    """Say whether tension is set the same every time, and what a run takes off it."""
    if "reason" in (block := findings["repeatability"]):
        return (f"Whether fitters do the same cannot be told: {block['reason']}.",)
    between, within, units = block["between_sd_n"], block["within_sd_n"], spoken(findings)
    said = [f"{counted(block['fitters'], 'fitter')}, {counted(block['runs'], 'run')} with a known tension."]
    if within["estimate"] is not None:
        said.append(f"On one car the same fitter's tensions spread by {_forces(within, units)} from run to run.")
    if between["estimate"] is None:
        pairs = block["differences_n"].items()
        said.append(f"{raised(between['reason'])}.")
        said += [f"{pair}: {_forces(each, units)}." for pair, each in pairs if each["estimate"]]
    else:
        none = "; that they do not differ is not ruled out" if between["lower"] == 0 else ""
        said.append(f"Fitters differ from each other by {_forces(between, units)}{none}.")
    loss = block["loss_n"]
    said.append(
        f"A run takes {_forces(loss, units)} off the tension."
        if loss["estimate"] is not None
        else f"What a run takes off cannot be told: {loss['reason']}."
    )
    slack = block["slack"]
    hr, share = slack.get("hr_per_kn", slack), SLACK_N / 1000
    said.append(
        f"What slack tells of the next run cannot be told: {hr['reason']}."
        if hr.get("estimate") is None
        else f"After a run that took {units.said(SLACK_N, 'N')} more off it, failures on the next run are "
        f"{_looked_for(hr, share)}; {slack['failed']} of {counted(slack['runs'], 'run')} with the loss before it "
        "written failed."
    )
    return tuple(said)


def _forces(each: Plain, units: Units) -> str:
    force = units.said(each["estimate"], "N")
    if each["lower"] is None or each["upper"] is None:
        return f"{force} (limits cannot be told)"
    return f"{force} ({units.number(each['lower'], 'N')} to {units.number(each['upper'], 'N')})"


def action_words(findings: Plain) -> tuple[str, ...]:
    """Give at most five sentences to act on: belts to take off, when to change, what to order, what to test."""
    outlook, change, said = findings["outlook"], findings["change_out"], []
    if "reason" not in outlook and (off := [belt["belt"] for belt in outlook if "off" in belt]):
        said.append(f"Take off now: {listed(off)}.")
    levels = [(level, change["levels"][level]) for level in which_levels(findings)] if "reason" not in change else []
    also = ", and at once when a look says off"
    said += [f"{raised(_change(level, found, also))}." for level, found in levels if "reason" not in found]
    if "reason" not in findings["spares"]:
        said.append(spares_words(findings)[0])
    trial = findings["next_trial"]
    asks = trial.get("belts") and not findings["claims"].get("idler", {}).get("claimed")
    if asks and trial["belts"] <= MOST * trial["belts_this_season"]:
        less, power = percent(1 - trial["effect"]), f"{10 * trial['power']:.0f} times in 10"
        show = f"{trial['belts']} belts would show {less} fewer failures a run {power}"
        said.append(f"Draw by lot which idler each new belt gets, and change none of them early: {show}.")
    return tuple(said[:5]) or ("Nothing can be acted on yet: keep the log and repeat the study.",)
