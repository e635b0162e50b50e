"""How much the drive grows when hot, and what that does to the belt's tension.

Each part of the height between crank and blower grows by expansion x height x warmer; the sum lifts the blower's centre
(each pulley by its share). The belt's own cord grows by expansion x warmer of its length and takes tension away again:

    gain = EA (dL_path - L alpha_belt warmer_belt) / L

with the path's growth dL found exactly by laying the belt anew. Linear expansion: Callister, *Materials Science and
Engineering*, whose values `layout.py` carries. Temperatures are taken even along each part, and the belt as stiff as
cold; both are rough, so a measured range of growth goes beside the computed one and is used where given.
"""

from __future__ import annotations

from dataclasses import dataclass

from drivekit.drive.amounts import force_words, length_words
from drivekit.drive.layout import Layout
from drivekit.drive.path import belt_path

__all__ = ["Growth", "growth"]


@dataclass(frozen=True, slots=True)
class Growth:
    """Growth of the engine and the tension it adds: least, expected and greatest.

    Parameters
    ----------
    computed_m : float
        Sum over the parts of the height.
    engine_m, tension_n : tuple of three floats
        Least, expected, greatest growth, and the tension each adds to every span with the belt's own growth taken off.
    path_m, belt_m : float
        Expected growth of the belt's path, and of the belt itself.
    """

    computed_m: float
    engine_m: tuple[float, float, float]
    tension_n: tuple[float, float, float]
    path_m: float
    belt_m: float

    def __str__(self) -> str:
        return (
            f"Hot, the engine grows {length_words(self.engine_m[1])} between crank and blower and the belt's path "
            f"{self.path_m * 1e3:.2f} mm, the belt itself {self.belt_m * 1e3:.2f} mm: that adds "
            f"{force_words(self.tension_n[1])} ({self.tension_n[0]:,.0f} to {self.tension_n[2]:,.0f} N) to every span."
        )


def growth(layout: Layout) -> Growth:
    """Growth of a drive from cold to hot.

    Where a range was measured it rules: the expected growth is the computed one held within it.
    """
    computed = sum(part.growth_m for part in layout.heights)
    low, high = layout.tension.growth_low_m, layout.tension.growth_high_m
    least = computed if low is None else low
    most = max(computed, least) if high is None else high
    engine = (min(least, most), min(max(computed, least), most), most)
    cold = belt_path(layout).length_m
    path = [belt_path(layout.grown(height)).length_m - cold for height in engine]
    belt = layout.belt.length_m * layout.belt.expansion_per_c * layout.belt.warmer_c
    low_n, expected_n, high_n = (layout.belt.stiffness_n * (more - belt) / layout.belt.length_m for more in path)
    return Growth(computed, engine, (low_n, expected_n, high_n), path[1], belt)
