"""Addresses filled in are those Django resolves."""

import pytest
from django.template import Context, Template
from django.urls import NoReverseMatch, reverse, set_script_prefix

from patients.addresses import to


def test_an_address_is_as_django_resolves_it():
    for key in [1, 7, 10**9 + 3, 1_900_000_000]:
        assert to("reports:journey", key) == reverse("reports:journey", args=[key])
    assert to("reports:due") == reverse("reports:due")
    with pytest.raises(NoReverseMatch):
        to("reports:journey")


def test_an_address_knows_where_the_program_is_mounted():
    plain = to("reports:journey", 4)
    set_script_prefix("/clinic 1%/")
    try:
        assert to("reports:journey", 4) == reverse("reports:journey", args=[4]) != plain
    finally:
        set_script_prefix("/")
    assert to("reports:journey", 4) == plain


def test_the_tag_writes_what_url_writes():
    both = "{% load house %}{% address 'reports:journey' n %} {% url 'reports:journey' n %}"
    one, other = Template(both).render(Context({"n": 12})).split()
    assert one == other


def test_a_number_that_is_missing_is_an_error():
    with pytest.raises(TypeError):
        to("reports:journey", None)
