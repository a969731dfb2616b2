"""The tag that keeps codes and sources out of sentences, and on the page."""

from django.template import Context, Template


def drawn(template, **values):
    return Template("{% load house %}" + template).render(Context(values))


def test_parts_stand_behind_one_word_and_are_escaped():
    found = drawn("{% why rule source %}", rule="E-01", source="Table 1 <b>")
    assert found == (
        '<details class="why"><summary>Why</summary>E-01 · Table 1 &lt;b&gt;</details>'
    )


def test_nothing_to_say_shows_nothing():
    assert drawn('{% why rule "" %}', rule=None) == ""
