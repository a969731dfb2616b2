"""Statements compiled once find what the query sets they come from find."""

from datetime import date, timedelta

import pytest
from django.db.models import Count

from patients.lookups import sent_list
from patients.models import Condition, Patient
from patients.prepared import Prepared, rows_at
from programs.staff.models import Site
from tests.factories.patients import ConditionFactory, PatientFactory
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db


def of(keys):
    return Condition.objects.filter(patient__pk__listed=keys).order_by("pk")


def test_a_list_of_any_length_is_one_value():
    rows = [ConditionFactory() for _ in range(4)]
    found = Prepared(lambda keys: of(keys).values_list("pk", "happened_on"), keys=list)
    for n in [4, 1, 0, 3]:
        people = [row.patient_id for row in rows[:n]]
        assert found(keys=people) == [(row.pk, row.happened_on) for row in rows[:n]]
    assert found(keys={10**12}) == []


def test_listed_finds_what_in_finds():
    mine, other = PatientFactory(), PatientFactory()
    assert list(Patient.objects.filter(pk__listed=[mine.pk])) == [mine]
    assert set(Patient.objects.filter(pk__listed=(mine.pk, other.pk))) == {mine, other}
    assert not Patient.objects.filter(pk__listed=[]).exists()
    assert sent_list([3, 1], "sqlite") == "[3, 1]"


def test_whole_rows_are_those_of_the_query_set():
    row = ConditionFactory()
    Condition.objects.filter(pk=row.pk).update(happened_on=date(2025, 2, 3))

    def build(keys):
        return of(keys).select_related("patient__site").annotate(n=Count("patient__referrals"))

    prepared = Prepared(build, keys=list)
    for _ in range(2):  # compiled, and compiled already
        (found,) = prepared(keys=[row.patient_id])
        (same,) = build([row.patient_id])
        assert found == same
        assert vars(found).keys() - {"_state"} == vars(same).keys() - {"_state"}
        assert found.happened_on == date(2025, 2, 3)
        assert (found.n, found.patient, found.patient.site) == (0, row.patient, row.patient.site)
        assert not found._state.adding


def test_columns_left_out_are_read_when_they_are_asked_for(django_assert_num_queries):
    row = ConditionFactory()
    some = Prepared(lambda keys: of(keys).only("kind"), keys=list)
    with django_assert_num_queries(1):
        (found,) = some(keys=[row.patient_id])
        assert found.kind == row.kind
    with django_assert_num_queries(1):
        assert found.happened_on == row.happened_on


def test_nobody_of_another_site_is_found():
    here, there = SiteFactory(), SiteFactory()
    mine, other = PatientFactory(site=here), PatientFactory(site=there)

    def born(at, *, since):
        return Patient.objects.visible_to(at).filter(born_on__gte=since).order_by("pk")

    long_ago = mine.born_on - timedelta(days=1)
    assert rows_at(born, [here.pk], since=long_ago) == [mine]
    assert rows_at(born, [there.pk], since=long_ago) == [other]
    assert rows_at(born, [here.pk, there.pk], since=long_ago) == [mine, other]
    assert rows_at(born, [here.pk], since=date.today()) == []
    assert rows_at(born, [], since=long_ago) == []


def test_a_value_that_does_not_reach_the_database_is_refused():
    with pytest.raises(ValueError, match="does not use day"):
        Prepared(lambda day: Site.objects.order_by("pk"), day=date)(day=date.today())
