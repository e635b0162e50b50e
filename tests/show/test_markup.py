"""Text becomes markup only escaped; a picture becomes an element that can stand beside others."""

import pytest
from jinja2 import UndefinedError

from drivekit.show.markup import inlined, table, written

SVG = (
    '<?xml version="1.0"?>\n<svg height="1pt" viewBox="0 0 1 1" width="1pt"><metadata>x</metadata><style>*{}</style>'
    '<path id="a b" clip-path="url(#c)"/><use xlink:href="#c"/></svg>\n'
)


def test_every_cell_is_escaped_and_carries_its_heading_for_a_phone():
    text = table(["", "a & b"], [["<i>", "1 %"]], caption="<u>")
    assert "<caption>&lt;u&gt;</caption>" in text
    assert '<th scope="row">&lt;i&gt;</th><td data-label="a &amp; b">1\N{NO-BREAK SPACE}%</td>' in text


def test_a_table_without_a_caption_has_none():
    assert "<caption>" not in table(["", "belts"], [["smooth", "3"]])


def test_quotes_cannot_leave_an_attribute():
    assert ' aria-label="&#34;&#39;&lt;&gt;&amp;" ' in inlined(SVG, "idler", "\"'<>&", "wide")


def test_a_page_that_lacks_a_word_is_an_error_and_never_a_gap():
    with pytest.raises(UndefinedError, match="'log' is undefined"):
        written("findings.html.j2")


def test_a_picture_in_a_page_carries_its_name_in_every_identifier_and_keeps_no_size_and_no_style():
    text = inlined(SVG, "idler", 'belts "last"', "wide")
    assert text.startswith('<svg class="drawing wide" role="img" aria-label="belts &#34;last&#34;" viewBox="0 0 1 1" ')
    assert text.endswith(
        '<path id="idler-wide-a-b" clip-path="url(#idler-wide-c)"/><use xlink:href="#idler-wide-c"/></svg>'
    )
