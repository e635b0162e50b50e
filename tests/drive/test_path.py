"""The belt's path: against formulas, the convex hull, laws, and the layouts no belt can run around."""

from __future__ import annotations

from dataclasses import replace
from math import asin, atan2, cos, degrees, hypot, pi, radians, sin, sqrt, tau
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from drivekit.drive.layout import Layout
from drivekit.drive.path import Circle, Impossible, _pieces, around, belt_path


def circle(name: str, x: float, y: float, radius: float, turn: Any = 1) -> Circle:
    return Circle(name, x, y, radius, radius, turn)


TRIANGLE = (circle("a", 0, 0, 2), circle("b", 10, 0, 2), circle("c", 5, 5 * sqrt(3), 2))


def test_two_pulleys_have_the_length_of_the_two_pulley_formula(mechanics: dict[str, Any]) -> None:
    for case in mechanics["two_pulleys"]["values"]:
        big, small, apart = case["first"] / 2, case["second"] / 2, case["distance"]
        # in the third case they touch: a hair smaller, so that they do not overlap
        path = around([circle("a", 0, 0, big), circle("b", apart, 0, small - 1e-10)], 1)
        assert path.length_m == pytest.approx(case["length"], abs=case["tolerance"])


def test_three_equal_pulleys_by_hand_are_the_triangle_and_one_circle(mechanics: dict[str, Any]) -> None:
    path = around(TRIANGLE, 1)
    assert path.length_m == pytest.approx(30 + 4 * pi, rel=1e-14)
    assert path.length_m == pytest.approx(mechanics["three_equal"]["length"], abs=5e-9)
    assert [span.length_m for span in path.spans] == pytest.approx([10, 10, 10])
    assert [degrees(arc.wrap_rad) for arc in path.arcs] == pytest.approx([120, 120, 120])


def test_a_crossed_belt_is_refused_though_its_length_is_known(mechanics: dict[str, Any]) -> None:
    with pytest.raises(Impossible, match="b"):
        around([circle("a", 0, 0, 3), circle("b", 8, 0, 1, -1)], 1)
    # its pieces are right all the same: two inner tangents and two arcs of pi + 2 asin(4 / 8)
    spans, arcs = _pieces([circle("a", 0, 0, 3), circle("b", 8, 0, 1, -1)])
    crossed = sum(span.length_m for span in spans) + sum(arc.radius_m * arc.wrap_rad for arc in arcs)
    assert crossed == pytest.approx(2 * sqrt(48) + 4 * (pi + 2 * asin(0.5)), rel=1e-14)
    assert crossed == pytest.approx(mechanics["crossed"]["length"], abs=5e-9)


def test_an_outside_idler_by_hand() -> None:
    # radii 1, 1 and 1; b is met from outside: inner tangents from a to b and b to c, all in the plane of one hand sum.
    # a (0, 0), c (8, 0), outside idler b (4, 1): above it the belt would run straight at y = 1; b pushes it to y = 0.
    path = around([circle("a", 0, 0, 1), circle("c", 8, 0, 1), circle("b", 4, 1, 1, -1)], 1)
    apart = sqrt(17)
    inner = sqrt(17 - 4)
    phi = asin(2 / apart) + asin(1 / apart) - 2 * asin(1 / apart)
    assert path.spans[1].length_m == pytest.approx(inner, rel=1e-14)
    assert path.spans[2].length_m == pytest.approx(inner, rel=1e-14)
    assert path.spans[0].length_m == pytest.approx(8, rel=1e-14)
    assert path.arcs[2].wrap_rad == pytest.approx(2 * phi, rel=1e-12)
    assert path.arcs[0].wrap_rad == pytest.approx(pi + phi, rel=1e-12)
    assert path.length_m == pytest.approx(8 + 2 * inner + 2 * (pi + phi) + 2 * phi, rel=1e-14)


def hull_perimeter(circles: tuple[Circle, ...], points: int = 2000) -> float:
    """Perimeter of the convex hull of many points on every circle: a lower bound, off by some 4e-7 of the arcs."""
    angle = np.linspace(0, tau, points, endpoint=False)
    xs = np.concatenate([c.x_m + c.radius_m * np.cos(angle) for c in circles])
    ys = np.concatenate([c.y_m + c.radius_m * np.sin(angle) for c in circles])
    return float(ConvexHull(np.column_stack([xs, ys])).area)


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.floats(0.3, 2), st.floats(6, 8)), min_size=3, max_size=6), st.floats(0, tau))
def test_where_every_pulley_touches_it_the_path_is_the_convex_hull(
    sizes: list[tuple[float, float]], spin: float
) -> None:
    angles = [spin + tau * i / len(sizes) for i in range(len(sizes))]
    circles = tuple(
        circle(f"p{i}", far * cos(at), far * sin(at), radius)
        for i, ((radius, far), at) in enumerate(zip(sizes, angles, strict=True))
    )
    try:
        path = around(circles, 1)
    except Impossible:
        assume(False)
    assert path.length_m == pytest.approx(hull_perimeter(circles), rel=1e-6)
    assert sum(arc.wrap_rad for arc in path.arcs) == pytest.approx(tau, rel=1e-12)


def test_equal_pulleys_have_the_polygon_of_their_centres_and_one_circle() -> None:
    centres = [(0, 0), (7, 1), (8, 6), (2, 7)]
    circles = [circle(f"p{i}", x, y, 0.5) for i, (x, y) in enumerate(centres)]
    polygon = sum(hypot(x - u, y - v) for (x, y), (u, v) in zip(centres, centres[1:] + centres[:1], strict=True))
    assert around(circles, 1).length_m == pytest.approx(polygon + pi, rel=1e-14)


def test_an_idler_inside_the_loop_lengthens_the_path_and_one_outside_too(toothed: Layout, outside: Layout) -> None:
    for layout in (toothed.at_travel(0.03), outside.at_travel(0.05)):
        with_idler = belt_path(layout).length_m
        without = replace(layout, pulleys=tuple(p for p in layout.pulleys if p.role != "idler"))
        assert with_idler > belt_path(without).length_m


@pytest.mark.parametrize("pulley", [0, 1, 2])
@pytest.mark.parametrize("direction", [0.0, 1.0, 2.5, -2.0])
def test_length_per_move_is_the_finite_difference_of_the_length(drive: Layout, pulley: int, direction: float) -> None:
    layout = drive.at_travel(0.06)
    closed = belt_path(layout).length_per_move(pulley, direction)

    def moved(step: float) -> float:
        one = layout.pulleys[pulley]
        one = replace(one, x_m=one.x_m + step * cos(direction), y_m=one.y_m + step * sin(direction))
        return belt_path(
            replace(layout, pulleys=(*layout.pulleys[:pulley], one, *layout.pulleys[pulley + 1 :]))
        ).length_m

    step = 1e-5
    # five-point difference: its error is of the fourth order
    slope = (8 * (moved(step) - moved(-step)) - (moved(2 * step) - moved(-2 * step))) / (12 * step)
    assert closed == pytest.approx(slope, abs=2e-9)


def shifted(layout: Layout, change: Any) -> Layout:
    pulleys = []
    for pulley in layout.pulleys:
        x, y = change(pulley.x_m, pulley.y_m)
        pulleys.append(replace(pulley, x_m=x, y_m=y))
    return replace(layout, pulleys=tuple(pulleys))


def test_turning_and_shifting_the_drive_changes_no_length_and_no_angle(drive: Layout) -> None:
    before = belt_path(drive.at_travel(0.05))
    c, s = cos(radians(37)), sin(radians(37))
    after = belt_path(shifted(drive.at_travel(0.05), lambda x, y: (c * x - s * y + 0.3, s * x + c * y - 1.0)))
    assert after.length_m == pytest.approx(before.length_m, rel=1e-13)
    assert [arc.wrap_rad for arc in after.arcs] == pytest.approx([arc.wrap_rad for arc in before.arcs], rel=1e-12)


def test_the_mirror_image_run_the_other_way_has_the_same_length(drive: Layout) -> None:
    layout = drive.at_travel(0.05)
    mirrored = replace(shifted(layout, lambda x, y: (-x, y)), turns="anticlockwise")
    assert belt_path(mirrored).length_m == pytest.approx(belt_path(layout).length_m, rel=1e-14)


def test_lengths_twice_as_large_leave_the_angles_and_double_the_path() -> None:
    small = around([circle("a", 0, 0, 1), circle("c", 8, 0, 2), circle("b", 4, 2, 1, -1)], 1)
    large = around([circle("a", 0, 0, 2), circle("c", 16, 0, 4), circle("b", 8, 4, 2, -1)], 1)
    assert large.length_m == pytest.approx(2 * small.length_m, rel=1e-14)
    assert [arc.wrap_rad for arc in large.arcs] == pytest.approx([arc.wrap_rad for arc in small.arcs], rel=1e-14)


def test_the_order_may_start_at_any_pulley() -> None:
    assert around(TRIANGLE[1:] + TRIANGLE[:1], 1).length_m == pytest.approx(around(TRIANGLE, 1).length_m, rel=1e-15)


def test_spans_touch_their_pulleys_and_arcs_begin_where_spans_end(drive: Layout) -> None:
    layout = drive.at_travel(0.05)
    path = belt_path(layout)
    for i, (pulley, arc) in enumerate(zip(layout.pulleys, path.arcs, strict=True)):
        arriving, leaving = path.spans[i - 1], path.spans[i]
        radius = pulley.pitch_radius(layout.belt)
        assert hypot(arriving.to_x_m - pulley.x_m, arriving.to_y_m - pulley.y_m) == pytest.approx(radius, rel=1e-13)
        end = arc.starts_rad + arc.turn * arc.wrap_rad
        assert pulley.x_m + radius * cos(end) == pytest.approx(leaving.from_x_m, abs=1e-13)
        assert pulley.y_m + radius * sin(end) == pytest.approx(leaving.from_y_m, abs=1e-13)
        reach = hypot(leaving.to_x_m - leaving.from_x_m, leaving.to_y_m - leaving.from_y_m)
        assert leaving.length_m == pytest.approx(reach, rel=1e-13)
        assert atan2(sin(leaving.heading_rad), cos(leaving.heading_rad)) == pytest.approx(
            atan2(leaving.to_y_m - leaving.from_y_m, leaving.to_x_m - leaving.from_x_m), abs=1e-12
        )


def test_teeth_in_mesh_are_the_wrap_s_share_of_the_teeth(toothed: Layout, smooth: Layout) -> None:
    path = belt_path(toothed)
    for pulley, arc in zip(toothed.pulleys, path.arcs, strict=True):
        assert pulley.teeth is not None
        assert arc.teeth_in_mesh == pytest.approx(pulley.teeth * arc.wrap_rad / tau, rel=1e-13)
    assert belt_path(smooth).arcs[1].teeth_in_mesh is None


@pytest.mark.parametrize(
    ("circles", "pulley", "sentence"),
    [
        ([circle("a", 0, 0, 2)], "a", "a belt needs at least two pulleys"),
        (
            [circle("a", 0, 0, 0.002), circle("b", 0.003, 0, 0.002)],
            "b",
            "a and b overlap: their centres are 3.0 mm apart and their faces need 4.0 mm",
        ),
        (
            [circle("a", 0, 0, 2), circle("b", 10, 0, 2), circle("c", 5, 0.5, 1)],
            "c",
            "the belt does not touch c: it would have to bend the other way there, by 11.5 degrees",
        ),
        (
            [circle("a", 0, 0, 2), circle("b", 10, 0, 2), circle("c", 5, 4, 1, -1)],
            "c",
            "the belt does not touch c: it would have to bend the other way there, by 21.4 degrees",
        ),
        (
            [circle("a", 0, 0, 2), circle("c", 5, 5 * sqrt(3), 2), circle("b", 10, 0, 2)],
            "a",
            (
                "from a on, the pulleys stand in the order of a belt that runs clockwise; reverse their order or the "
                "way it turns"
            ),
        ),
        (
            [Circle("a", 0, 0, 0.003, 0.003, 1), Circle("b", 0.0105, 0, 0.009, 0.007, -1)],
            "b",
            "no belt goes from a to b: their centres are 10.5 mm apart and must be more than 12.0 mm",
        ),
        (
            [Circle("a", 0, 0, 0.1, 0.2, 1), circle("b", 10, 0, 1)],
            "a",
            (
                "a has a face of radius 200.0 mm under a pitch line of radius 100.0 mm; the face must be above 0 and "
                "not above the pitch line"
            ),
        ),
    ],
)
def test_layouts_no_belt_can_run_around_are_refused_with_the_pulley_named(
    circles: list[Circle], pulley: str, sentence: str
) -> None:
    with pytest.raises(Impossible) as refused:
        around(circles, 1)
    assert str(refused.value) == sentence
    assert refused.value.pulley == pulley


def test_a_span_through_a_pulley_and_a_belt_across_itself_are_refused() -> None:
    # d stands inside the loop on the way from a to b: the belt never meets it there, it meets it later
    through = [circle("a", 0, 0, 1), circle("b", 20, 0, 1), circle("c", 20, 12, 1), circle("d", 10, -0.5, 1, -1)]
    with pytest.raises(Impossible, match="the span from a to b runs through d") as refused:
        around(through, 1)
    assert refused.value.pulley == "d"
    # an outside idler pulled through the loop and beyond the other side: the belt crosses itself
    across = [circle("a", 0, 0, 1), circle("b", 20, 0, 1), circle("c", 10, -4, 1, -1)]
    with pytest.raises(Impossible, match="the belt crosses itself: the span from a to b cuts the span from b to c"):
        around(across, 1)


def test_the_path_says_itself(worked: Layout) -> None:
    # wraps 2 atan(.18 / .24) on the idler and pi less half of that on the others; teeth = wrap x 100 mm / 10 mm
    assert str(belt_path(worked.at_travel(0.05))).splitlines() == [
        "The belt's path is 1708.3 mm long.",
        "crank: 143.1 degrees of wrap, 25.0 teeth in mesh.",
        "Span crank to idler: 300.0 mm.",
        "idler: 73.7 degrees of wrap, 12.9 teeth in mesh.",
        "Span idler to blower: 300.0 mm.",
        "blower: 143.1 degrees of wrap, 25.0 teeth in mesh.",
        "Span blower to crank: 480.0 mm.",
    ]
