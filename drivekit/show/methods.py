"""How the numbers on the page are computed, in plain words, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["METHODS", "Method"]


@dataclass(frozen=True, slots=True)
class Method:
    """One thing that is computed.

    Parameters
    ----------
    title, text, source : str
        What, how in plain words, and where it is written up.
    """

    title: str
    text: str
    source: str


METHODS: tuple[Method, ...] = (
    Method(
        "One run is one row",
        "A belt's age is counted in whole runs. At each age, those at risk are the belts that made that run "
        "(in the group they ran in on that run), and those failed are the belts whose failure ended it. A "
        "belt that came used joins at its age. A belt still running, or taken off for another reason than its "
        "own failure, leaves without failing: it is censored, and taken to have been no nearer to failing "
        "than the belts that ran on.",
        "Klein and Moeschberger, Survival Analysis, 2nd ed. (2003), chapters 3 and 4.",
    ),
    Method(
        "The curves and their bands",
        "The share not failed after a run is the product, over all runs up to it, of 1 minus failed over at "
        "risk. A group's curve is the life of a belt always kept in that setting, if only its age and its "
        "present setting matter. The bands are Greenwood's, on the log(-log) scale, one run at a time; they "
        "end where the share is 0.",
        "Kaplan and Meier, J Am Stat Assoc 53 (1958); Greenwood, Reports on Public Health 33 (1926); "
        "Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, 2nd ed. (2002), section "
        "1.4.",
    ),
    Method(
        "The run by which half, or 1 in 10, had failed",
        "The first run after which the curve stands at .5 (or .9) or below; its limits are the first runs "
        "after which the lower and the upper end of the band do.",
        "Brookmeyer and Crowley, Biometrics 38 (1982).",
    ),
    Method(
        "Runs out of the first so many",
        "The area under the curve up to the horizon: the mean number of runs a belt makes out of that many, "
        "the run it fails on included. The horizon is the last age at which every idler still had 5 runs, "
        "unless it was chosen.",
        "Irwin, J Hyg 47 (1949); Royston and Parmar, BMC Med Res Methodol 13 (2013) 152.",
    ),
    Method(
        "Could chance alone do this?",
        "The log-rank test holds, at every age, the failures of each group against those expected if all "
        "groups failed alike. Its chance is counted exactly, by folding the ages together, where that is "
        "small enough to count; the allowance for several questions is Holm's.",
        "Mantel, Cancer Chemother Rep 50 (1966); Holm, Scand J Stat 6 (1979).",
    ),
    Method(
        "All settings at once",
        "The hazard of failing on a run, at the same age on the same car, as a multiple for each setting, the others "
        "alike; failures at the same age are taken together as Efron does, limits are from the profile of the "
        "likelihood. Where a level never failed, or there are fewer than 5 failures for each term, Firth's penalised "
        "likelihood answers. Beside it: other treatments of ties, a binomial model of each age, and precautionary "
        "retirements counted as failures.",
        "Cox, J R Stat Soc B 34 (1972); Efron, J Am Stat Assoc 72 (1977); Firth, Biometrika 80 (1993); Heinze and "
        "Schemper, Biometrics 57 (2001); Prentice and Gloeckler, Biometrics 34 (1978).",
    ),
    Method(
        "The same belts, once all at each level",
        "Each belt with known settings counts once, with the settings of its first run and its car's own hazard, and "
        "is put on each level in turn; the curves are means of what the hazard fit gives. Limits are percentiles over "
        "belts drawn with replacement, the hazard fitted anew each time. The horizon is the last age with 5 belts at "
        "risk on every car.",
        "Robins, Math Modelling 7 (1986); Efron and Tibshirani, An Introduction to the Bootstrap (1993).",
    ),
    Method(
        "Tension along its range",
        "The hazard as a parabola in tension, beside a line and a natural cubic spline; its lowest place has Fieller's "
        "limits. The answer is the curve's where a bend as large would come up by chance less than 1 time in 20.",
        "Fieller, J R Stat Soc B 16 (1954); Harrell, Regression Modeling Strategies, 2nd ed. (2015).",
    ),
    Method(
        "How the fit sits on its data",
        "Drift with age by the score test against age itself; the surprise is the largest deviance residual; the belt "
        "that moves an answer most is found by fitting without it; how strong something unrecorded would have to be "
        "is the E-value for a common outcome.",
        "Grambsch and Therneau, Biometrika 81 (1994); Therneau, Grambsch and Fleming, Biometrika 77 (1990); "
        "VanderWeele and Ding, Ann Intern Med 167 (2017).",
    ),
    Method(
        "How belts fail",
        "For each cause, the share of belts it has ended by each run, when all causes compete; the shares and "
        "the share not failed add to one. Limits are on the log(-log) scale.",
        "Aalen and Johansen, Scand J Stat 5 (1978); Gaynor and others, J Am Stat Assoc 88 (1993).",
    ),
    Method(
        "Where the belt runs even",
        "For each car, the difference of the edge temperatures (front less rear) on the net idler flats (front less "
        "rear), by least squares; the flats at zero with Fieller's limits. The next move goes to where the line comes "
        "nearest to even among the settings that were tried; its chance is that of a nearer reading under Student's "
        "law. Crews steer by the last reading, which hides part of the slope.",
        "Fieller, J R Stat Soc B 16 (1954); Draper and Smith, Applied Regression Analysis (1998).",
    ),
    Method(
        "When an answer says too few belts",
        "An answer names the longer-lasting side only when its whole interval lies on that side of zero. When "
        "it spans zero and either end is a run or more away, there are too few belts to tell; when both ends "
        "are nearer than a run, there is no difference as large as a run.",
        "The rule is this page's own.",
    ),
)
"""In the order in which the page tells them."""
