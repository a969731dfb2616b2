"""Every finding has a name of a few words; a code is never one."""

import re

import pytest

from programs.attendance.calc.catalogue import RULES
from programs.attendance.calc.names import NAMES, name_of

CODE = re.compile(r"[A-Z]-[0-9a-z]")


@pytest.mark.parametrize("subject", sorted({rule.subject for rule in RULES}))
def test_every_rule_has_a_name_without_its_code(subject):
    name = name_of(*subject)
    assert name
    assert not CODE.search(name)


def test_no_name_is_left_of_a_rule_that_is_gone():
    assert set(NAMES) <= {rule.subject for rule in RULES}


@pytest.mark.parametrize(
    ("rule_id", "about", "name"),
    [
        ("E-01", "", "High resting systolic"),
        ("F-02", "systolic@2", "Bout 2: High systolic in exercise"),
        ("E-30", "dizzy", "Dizzy or light-headed"),
        ("E-08", "", "Symptomatic severe aortic stenosis"),
        ("Z-99", "", "Z-99"),  # a finding of a rule that is gone keeps its code
    ],
)
def test_a_finding_is_called_in_a_few_words(rule_id, about, name):
    assert name_of(rule_id, about) == name
