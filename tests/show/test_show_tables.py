"""Tables are escaped, labelled for a phone, and say what cannot be told."""

from drivekit.show.tables import endings_table, html, levels_table, overlap_table, table


def test_every_cell_is_escaped_and_carries_its_heading_for_a_phone():
    text = table(["", "a & b"], [["<i>", "1 %"]], caption="<u>")
    assert "<caption>&lt;u&gt;</caption>" in text
    assert '<th scope="row">&lt;i&gt;</th><td data-label="a &amp; b">1\N{NO-BREAK SPACE}%</td>' in text


def test_quotes_cannot_leave_an_attribute():
    assert html("\"'<>&") == "&quot;&#x27;&lt;&gt;&amp;"


def test_a_row_says_how_many_belts_failed_and_how_many_ran_on(season):
    curve = season["life"]["idler"]["levels"]["smooth"]
    text = levels_table({"smooth": curve}, 12)
    cells = [
        ("belts", curve["belts"]),
        ("failed", curve["failed"]),
        ("still running or taken off early", curve["belts"] - curve["failed"]),
    ]
    for heading, number in cells:
        assert f'<td data-label="{heading}">{number}</td>' in text
    half = curve["median"]
    assert f'<td data-label="half failed by">run {half["estimate"]} ({half["lower"]} to {half["upper"]})</td>' in text


def test_a_run_by_which_half_failed_that_never_came_is_said(season):
    curve = season["life"]["idler"]["levels"]["smooth"] | {"median": {"estimate": None, "lower": None, "upper": None}}
    assert '<td data-label="half failed by">not by run 26, the oldest</td>' in levels_table({"smooth": curve}, None)


def test_a_mean_that_cannot_be_told_is_said_and_left_out_without_a_horizon(season):
    curve = season["life"]["idler"]["levels"]["smooth"] | {"mean_to_horizon": {"estimate": None, "se": None}}
    assert '<td data-label="runs out of the first 12">cannot tell</td>' in levels_table({"smooth": curve}, 12)
    assert "runs out of the first" not in levels_table({"smooth": curve}, None)


def test_runs_of_each_level_fall_over_the_season(season):
    text = overlap_table(season["overlap"]["idler"]["time"], "")
    assert '<td data-label="middle third">110</td>' in text
    assert "<caption>" not in text


def test_endings_say_whether_they_count():
    text = endings_table({"tooth-jump": 3, "sold": 2}, ["tooth-jump"])
    counts = '<td data-label="counts as a failure">'
    assert f'<th scope="row">tooth-jump</th><td data-label="belts">3</td>{counts}yes' in text
    assert f'<th scope="row">sold</th><td data-label="belts">2</td>{counts}no' in text
