"""Words of the code written into a query, for indexes of some rows; nothing typed gets in there."""

import pytest
from django.db import connection
from django.db.models import Q

from programs.enrolment.models import Referral
from tests.factories.enrolment import ReferralFactory

pytestmark = pytest.mark.django_db


def test_it_finds_what_in_finds():
    for state in Referral.State.values:
        why = "declined" if state == "not_enrolling" else ""
        ReferralFactory(state=state, why_not=why)
    words = ["new", "seat"]
    found = Referral.objects.filter(state__among=words).values_list("state", flat=True)
    assert sorted(found) == ["new", "seat"]
    assert Referral.objects.filter(~Q(state__among=words)).count() == len(Referral.State.values) - 2


@pytest.mark.parametrize("words", [["new'; --"], ["new", "%s"], [""], ["New"]])
def test_only_plain_words_go_into_the_query(words):
    with pytest.raises(ValueError, match="plain words"):
        str(Referral.objects.filter(state__among=words).query)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="reads SQLite's own schema")
def test_a_query_states_the_very_condition_of_the_index():
    with connection.cursor() as cursor:
        find = "SELECT sql FROM sqlite_master WHERE name = 'referral_waiting_idx'"
        condition = cursor.execute(find).fetchone()[0].split(" WHERE ")[1]
    listed = condition.split(" IN ")[1]
    assert f'"state" IN {listed}' in str(Referral.objects.waiting().query)
