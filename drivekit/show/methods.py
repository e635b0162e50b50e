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
