import numpy as np
import pytest

from drivekit.log import check_season, read_season

RUNS = """\
run,day,car,belt,idler,tension_n,span_hz,span_mm,push_n,push_mm,fate,cause
1,2026-03-01,blue,A1,smooth,7000,200,310,,,kept,
2,2026-03-01,blue,A1,smooth,,200,310,50,0.5,kept,
3,2026-03-01,blue,A1,smooth,,,320,100,1,kept,
4,2026-03-01,blue,A1,smooth,,,,,,kept,
"""


def test_a_typed_tension_comes_first_then_the_ring_then_the_push(log) -> None:
    # By hand: 4 * .5 * .31^2 * 200^2 = 2 * .0961 * 40000 = 7688 N.
    season = read_season(log(runs=RUNS))
    assert season.runs["tension_n"].tolist()[:3] == pytest.approx([7000.0, 7688.0, 8000.0], rel=1e-14)
    assert np.isnan(season.runs["tension_n"][3])
    assert "tension_n" not in [column.name for column in season.absent]


def test_the_inputs_may_be_written_in_inch_pound_units(log) -> None:
    runs = (
        "run,day,car,belt,idler,span_in,push_lbf,push_in,fate\n"
        f"1,2026-03-01,blue,A1,smooth,{320 / 25.4!r},{100 / 4.4482216152605!r},{1 / 25.4!r},kept\n"
    )
    assert read_season(log(runs=runs)).runs["tension_n"].tolist() == pytest.approx([8000.0], rel=1e-12)


def test_the_stretch_of_a_push_comes_off_where_the_belt_s_stiffness_is_known(log) -> None:
    # checked by a separate program: 538 N, 8.75 mm, 559.7 mm, EA 2.1 MN on 130 teeth of 14 mm: 8,603 N pushed
    belts = "belt,stiffness_n,teeth,pitch_mm\nA1,2100000,130,14\nA2,2100000,,14\n"
    runs = (
        "run,day,car,belt,idler,span_mm,push_n,push_mm,fate\n"
        "1,2026-03-01,blue,A1,smooth,559.7,538,8.75,kept\n"
        "2,2026-03-01,blue,A2,smooth,559.7,538,8.75,kept\n"
    )
    season = read_season(log(belts=belts, runs=runs))
    # half of the span pushed is sqrt(279.85^2 + 8.75^2) = 279.98676 mm: 0.27352 mm of 1,820 mm make 315.6 N
    assert season.runs["tension_n"].tolist() == pytest.approx([8607.5 - 315.6, 8603.4], abs=0.5)
    warned = [str(warning) for warning in season.warnings if "stretch" in str(warning)]
    (warned,) = warned
    assert warned == (
        "runs.csv:3:push_n: warning: \"538\" makes 8603 N, with nothing taken off for the belt's stretch; belts' "
        "stiffness_n, teeth and pitch_mm take it off: a belt of 2000000 N and 1.8 m, both from memory, "
        "would have 8304 N"
    )


def said(place) -> list[str]:
    return [str(fault) for fault in check_season(place) if fault.column != "runs_before"]


def test_an_impossible_result_names_all_it_came_from(log) -> None:
    runs = RUNS.replace("A1,smooth,,200,310", "A1,smooth,,900,310").replace("320,100,1,", "320,1000,0.1,")
    assert said(log(runs=runs)) == [
        (
            'runs.csv:3:span_hz: fault: "900" with span_mm 310 and the belt\'s mass of 500 g/m gives a tension of '
            "155682 N; 50 to 50000 N is possible: correct the one that is wrong"
        ),
        (
            'runs.csv:4:push_n: fault: "1000" with push_mm 0.1 and span_mm 320 gives a tension of 800000 N; '
            "50 to 50000 N is possible: correct the one that is wrong"
        ),
    ]


def test_a_typed_tension_far_from_what_the_span_says_is_doubted(log) -> None:
    assert said(log(runs=RUNS.replace("7000", "9800"))) == []  # 7688 is within a quarter of 9800
    assert said(log(runs=RUNS.replace("7000", "10400"), name="other")) == [
        (
            'runs.csv:2:tension_n: warning: "10400" is used, though the span\'s own measurements give 7688 N; '
            "correct the one that is wrong"
        )
    ]


def test_a_measurement_that_gives_no_tension_says_what_it_needs(log) -> None:
    belts = "belt,mass_g_per_m\nA1,500\nA2,\n"
    runs = (
        "run,day,car,belt,idler,span_hz,span_mm,push_n,push_mm,fate\n"
        "1,2026-03-01,blue,A1,smooth,200,,,,kept\n"
        "2,2026-03-01,red,A2,smooth,200,310,,,kept\n"
        "3,2026-03-01,red,A2,smooth,200,310,,,kept\n"
        "4,2026-03-01,blue,A1,smooth,,310,100,,kept\n"
        "5,2026-03-01,blue,A1,smooth,,310,,1,kept\n"
        "6,2026-03-01,blue,A1,smooth,,,100,1,kept\n"
    )
    assert said(log(belts, runs)) == [
        ('runs.csv:2:span_hz: warning: "200" gives no tension here; it needs span_mm, the length of the free span'),
        (
            'runs.csv:3:span_hz: warning: "200" gives no tension here, nor on 1 more run; '
            "it needs mass_g_per_m of its belt"
        ),
        ('runs.csv:5:push_n: warning: "100" gives no tension here; it needs push_mm, how far it gave way'),
        ('runs.csv:6:push_mm: warning: "1" gives no tension here; it needs push_n, the force'),
        ('runs.csv:7:push_n: warning: "100" gives no tension here; it needs span_mm, the length of the free span'),
    ]


def test_a_cell_at_fault_is_not_said_a_second_time(log) -> None:
    assert said(log(runs=RUNS.replace("A1,smooth,,200,310", "A1,smooth,,200,long"))) == [
        'runs.csv:3:span_mm: fault: "long" is no number; write a number, such as 12, or leave the cell blank'
    ]
