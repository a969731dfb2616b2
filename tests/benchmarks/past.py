"""A clinic with a long past: the demo's people copied inside the database, thousands of times.

The demo is stored through the rooms' own services, so each copy is a whole record: its visits,
readings, findings, plans, results and every version of them. Nothing here knows a table by name but
the few of which a site has one whoever comes (slots, meetings); a new model is copied as it is.

The present is the same at every size: ten sites, some 600 open courses, a class of forty. The past
is the people of the demo who ended or never began, moved back by whole rounds of 62 weeks, so that
weekdays stay. Everything is made from numbers: two runs on one day give the same rows.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice, product
from typing import Any

from django.apps import apps
from django.core.management import call_command
from django.db import connection, models, transaction
from django.utils import timezone

from patients.models import AuditEvent, FindKey, Patient
from programs.attendance.models import ClassMeeting, Finding, Interruption, NotTaken, Visit
from programs.enrolment.models import (
    ClassSlot,
    ContactAttempt,
    DayTotals,
    Enrolment,
    Pause,
    Referral,
    ReferralTotals,
)
from programs.staff.models import Site, User
from reports import counting
from tests.factories.assessments import ConcernFactory
from tests.factories.attendance import (
    CarbohydrateFactory,
    EventEntryFactory,
    PersonLimitFactory,
    SafetyEventFactory,
)
from tests.factories.enrolment import ReferralDocumentFactory
from tests.factories.patients import DeviceFactory

PAIRS = 5  # the demo has two sites; five times two are ten
ROUNDS = 8  # before the demo's own fourteen months: ten years and a half
ROUND_DAYS = 62 * 7  # longer than the demo, so that no class is met twice; weekdays stay
ALONE = (*range(1, 6), *(p for pair in range(1, PAIRS) for p in (pair * 10, pair * 10 + 1)))
OF_THE_PRESENT = 1_000_000_000  # keys above those of the past, as if it came later
AT_ALL_SITES = ["hvantongeren", "alindqvist", "cfairweather", "iduarte"]
# Made-up names by the hundred, put together from parts.
STARTS = (
    "Bar Cal Dun El Fen Gar Hol Ing Jor Kel Lam Mor Nor Os Pell Quen Ros Sel Tam Ul Var Wen Yar Zel"
)
ENDS = (
    "ander bury cott dale es ford gate ham ing ker land man ner over port quist rick sen ton um "
    "vale wick yard zer abel beck croft der ell fold garth hurst iver kin low mere nock orth"
)
FAMILY = [f"{start}{end}" for start, end in product(STARTS.split(), ENDS.split())]
FIRSTS, SECONDS = "Ad Bel Cor Di El Fa Ge Ha I Jo Ka Le", "ra ron lia mar vin"
GIVEN = [f"{start}{end}" for start, end in product(FIRSTS.split(), SECONDS.split())]


@dataclass(frozen=True)
class Copy:
    """One copy of a template: how far its keys move, to which pair of sites, how many rounds back.

    ``name`` tells its record numbers from those of other copies.
    """

    name: str
    keys: int
    pair: int
    back: int


def demo_at_ten_sites() -> None:
    """Load the demo and make it the present; an empty, migrated database is needed."""
    call_command("demo", no_serve=True, verbosity=0)
    with Unchecked(), transaction.atomic():
        _sites()
        _eventful()
        _take_templates()
        present = [Copy(f"n{n}", OF_THE_PRESENT + n * _stride(), n // 10, 0) for n in ALONE]
        _copy("present", present)
        for user in User.objects.filter(username__in=AT_ALL_SITES):
            user.sites.set(Site.objects.all())
    _settle()


def grow(copies_from: int, copies_to: int) -> None:
    """Add past copies of a number on, up to another; each has some 68 ended courses."""
    copies = [
        Copy(f"p{n}", (n + 1) * _stride(), n % PAIRS, 1 + n // PAIRS % ROUNDS)
        for n in range(copies_from, copies_to)
    ]
    with Unchecked(), transaction.atomic():
        _copy("past", copies)
        _looks(copies)
        # What was counted of these days and courses before says nothing of those copied now.
        DayTotals.objects.all().delete()
        ReferralTotals.objects.forget()
    _settle()


def count_courses() -> None:
    """Count every course, as a large clinic does once after an update: ``verify_totals --mend``."""
    counting.count(ReferralTotals.objects.all())
    _settle()


def counts() -> dict[str, int]:
    """How much there is."""
    return {
        "enrolments": Enrolment.objects.count(),
        "open": Enrolment.objects.filter(closed_on=None).count(),
        "people": Patient.objects.count(),
        "visits": Visit.objects.count(),
        "looks": AuditEvent.objects.count(),
    }


# --- what is copied -----------------------------------------------------------------------------


def of_a_person() -> list[type[models.Model]]:
    """Every model whose rows lead to a patient, each after those it leads through."""
    found: list[type[models.Model]] = [Patient]
    rest = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model not in (Patient, AuditEvent, FindKey)
    ]
    while True:
        more = [m for m in rest if m not in found and _parent(m, found) is not None]
        if not more:
            return found
        found += more


def _parent(model: type[models.Model], known: Iterable[Any]) -> tuple[Any, str, str] | None:
    """The table above: its model, the column here that leads to it, and the column there."""
    known = list(known)
    base = getattr(model, "instance_type", None)  # a table of versions
    if base is not None:
        return (base, "id", "id") if base in known else None
    for one in model._meta.concrete_fields:
        target = one.remote_field and one.remote_field.model
        if target in known and target is not model:
            return target, one.column, target._meta.pk.column
    return None


def _sites() -> None:
    """The two sites, their classes and their closed days four times more."""
    n_sites, n_slots = Site.objects.count(), _most(ClassSlot)
    assert n_sites == 2
    for pair in range(1, PAIRS):
        for site in Site.objects.filter(pk__lte=n_sites):
            site.pk, site.code = site.pk + pair * n_sites, f"{site.code}{pair}"
            site.name = f"{site.name} {pair + 1}"
            site.save(force_insert=True)
        for slot in ClassSlot.objects.filter(pk__lte=n_slots):
            slot.pk, slot.site_id = slot.pk + pair * n_slots, slot.site_id + pair * n_sites
            slot.save(force_insert=True)


def _eventful() -> None:
    """The demo's ended courses get what a long past has of everything, all of it dealt with."""
    by = User.objects.order_by("pk")[0]
    when = timezone.now()
    for course in Enrolment.objects.exclude(closed_on=None).order_by("pk"):
        visit = course.visits.order_by("pk").first()
        patient, day = course.patient, course.starts_on
        if visit is None or course.pk % 3 == 0:
            continue
        Pause.objects.create(enrolment=course, from_on=day, until_on=day, reason="away")
        ContactAttempt.objects.create(referral=course.referral, by=by, how="phone")
        ReferralDocumentFactory(referral=course.referral, asked_on=day, received_on=day)
        CarbohydrateFactory(visit=visit, given_at=when)
        NotTaken.objects.create(visit=visit, step="start", what="SpO₂", because="cold hands", by=by)
        PersonLimitFactory(patient=patient, set_on=day, ended_on=day)
        DeviceFactory(patient=patient, removed_on=day)
        ended = {"reviewed_by": by, "reviewed_at": when, "what": "x", "outcome": "x", "review": "x"}
        event = SafetyEventFactory(site=patient.site, patient=patient, visit=visit, **ended)
        EventEntryFactory(event=event, by=by)
        assessment = course.assessments.order_by("pk").first()
        if assessment is not None:
            closed = {"closed_at": when, "closed_by": by, "outcome": "spoken with"}
            ConcernFactory(assessment=assessment, owner=by, **closed)
    past = {"visit__enrolment__closed_on__isnull": False}
    answered = {"decision": "proceed", "reason": "repeat inside", "by": by, "answered_at": when}
    Finding.objects.filter(decision="", **past).update(**answered)
    settled = {"settled_at": when, "settled_by": by, "settled_words": "physician agrees"}
    written = {"seen": "x", "done": "x", "told": "x", "return_condition": "x", "written_at": when}
    Interruption.objects.filter(settled_at=None, **past).update(**settled)
    Interruption.objects.filter(written_at=None, **past).update(**written)


def _take_templates() -> None:
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE bench_sizes (slots bigint, meetings bigint, stride bigint)")
        most = max(_most(model) for model in of_a_person())
        stride = 10 ** len(str(most))
        sizes = [_most(ClassSlot) // PAIRS, _most(ClassMeeting), stride]
        cursor.execute("INSERT INTO bench_sizes VALUES (%s, %s, %s)", sizes)
    going = set(Enrolment.objects.filter(closed_on=None).values_list("patient", flat=True))
    going |= set(Referral.objects.waiting().values_list("patient", flat=True))
    _take("present", Patient.objects.filter(pk__in=going))
    _take("past", Patient.objects.exclude(pk__in=going))
    _meetings()


def _take(name: str, people: Any) -> None:
    q = connection.ops.quote_name
    known = of_a_person()
    with connection.cursor() as cursor:
        for model in known:
            table = q(model._meta.db_table)
            template = q(_template(name, model))
            if model is Patient:
                keys = ", ".join(str(pk) for pk in people.values_list("pk", flat=True))
                where = f"id IN ({keys})"
            else:
                parent, here, there = _parent(model, known[: known.index(model)])
                above = q(_template(name, parent))
                where = f"{q(here)} IN (SELECT {q(there)} FROM {above})"
            cursor.execute(f"CREATE TABLE {template} AS SELECT * FROM {table} WHERE {where}")


def _template(name: str, model: Any) -> str:
    return f"bench_{name}_{model._meta.db_table}"


# --- copying ------------------------------------------------------------------------------------


def _copy(template: str, copies: list[Copy]) -> None:
    known = of_a_person()
    slots, meetings, _ = _sizes()
    with connection.cursor() as cursor:
        _say_copies(
            cursor,
            [
                (c.name, c.keys, 2 * c.pair, slots * c.pair,
                 meetings * (c.pair * (ROUNDS + 1) + c.back), _back(c.back))
                for c in copies
            ],
        )  # fmt: skip
        for model in known:
            _insert(cursor, template, model, known)
    _names(copies)


def _say_copies(cursor: Any, rows: list[tuple[Any, ...]]) -> None:
    kind = "text" if connection.vendor == "sqlite" else "bigint"
    cursor.execute("DROP TABLE IF EXISTS bench_copies")
    cursor.execute(
        "CREATE TABLE bench_copies (name text, keys bigint, sites bigint, slots bigint, "
        f"meetings bigint, back {kind})"
    )
    cursor.executemany("INSERT INTO bench_copies VALUES (%s, %s, %s, %s, %s, %s)", rows)


def _insert(cursor: Any, template: str, model: Any, known: list[Any]) -> None:
    q = connection.ops.quote_name
    columns = [q(f.column) for f in model._meta.concrete_fields]
    moved = [_moved(f, known) for f in model._meta.concrete_fields]
    cursor.execute(
        f"INSERT INTO {q(model._meta.db_table)} ({', '.join(columns)}) "
        f"SELECT {', '.join(moved)} FROM bench_copies c "
        f"CROSS JOIN {q(_template(template, model))} t"
    )


def _moved(one: Any, known: list[Any]) -> str:
    """A column of the template as it is in a copy."""
    column = f"t.{connection.ops.quote_name(one.column)}"
    target = one.remote_field and one.remote_field.model
    of_versions = getattr(one.model, "instance_type", None)
    if target is Site:
        return f"{column} + c.sites"
    if target is ClassSlot:
        return f"{column} + c.slots"
    if target is ClassMeeting:
        return f"{column} + c.meetings"
    if one.primary_key or target in known or (of_versions and one.name == "id"):
        return f"{column} + c.keys"
    if one.name == "record_number":
        return f"{column} || '-' || c.name"
    if isinstance(one, models.DateTimeField):
        return _earlier(column, is_time=True)
    if isinstance(one, models.DateField):
        return _earlier(column, is_time=False)
    return column


def _earlier(column: str, *, is_time: bool) -> str:
    if connection.vendor == "sqlite":
        if is_time:
            return f"strftime('%Y-%m-%d %H:%M:%f', {column}, c.back)"
        return f"date({column}, c.back)"
    if is_time:
        return f"{column} - c.back * interval '1 day'"
    return f"{column} - c.back::int"


def _back(rounds: int) -> Any:
    days = rounds * ROUND_DAYS
    return f"-{days} days" if connection.vendor == "sqlite" else days


def _meetings() -> None:
    """Every class of every round at every pair of sites, so that copies share them."""
    slots, meetings, _ = _sizes()
    places = [(pair, back) for pair in range(PAIRS) for back in range(ROUNDS + 1)]
    copies = [
        ("", meetings * n, 2 * pair, slots * pair, 0, _back(back))
        for n, (pair, back) in enumerate(places)
        if n
    ]
    with connection.cursor() as cursor:
        template = connection.ops.quote_name(_template("all", ClassMeeting))
        table = connection.ops.quote_name(ClassMeeting._meta.db_table)
        cursor.execute(f"CREATE TABLE {template} AS SELECT * FROM {table}")
        _say_copies(cursor, copies)
        _insert(cursor, "all", ClassMeeting, [])


def _names(copies: list[Copy]) -> None:
    """Copies are other people: names and phones by their number."""
    lowest = min(c.keys for c in copies)
    with connection.cursor() as cursor:
        for table, words in [("bench_family", FAMILY), ("bench_given", GIVEN)]:
            cursor.execute(f"DROP TABLE IF EXISTS {table}")
            cursor.execute(f"CREATE TABLE {table} (n integer primary key, word text)")
            cursor.executemany(f"INSERT INTO {table} VALUES (%s, %s)", list(enumerate(words)))
        cursor.execute(
            "UPDATE patients_patient SET "
            f"family_name = (SELECT word FROM bench_family WHERE n = id * 7919 %% {len(FAMILY)}),"
            f"given_name = (SELECT word FROM bench_given WHERE n = id * 104729 %% {len(GIVEN)}),"
            "phone = '555-' || (1000000 + id * 611953 %% 8999999) WHERE id >= %s",
            [lowest],
        )
    _found_by(Patient.objects.filter(pk__gte=lowest).order_by("pk"))
    _months(lowest)


def _found_by(people: Any) -> None:
    """What the copies are found by, as their new names say."""
    rest = people.iterator(chunk_size=2000)
    while some := list(islice(rest, 2000)):
        FindKey.objects.renew(some)


def _months(lowest: int) -> None:
    """The months of each course and referral, which moved with their days."""
    kept = [
        ("enrolment_coursetotals", "enrolment_id", "starts_in", "starts_on"),
        ("enrolment_referraltotals", "referral_id", "referred_in", "referred_on"),
    ]
    with connection.cursor() as cursor:
        for table, key, number, day in kept:
            year, month = f"EXTRACT(YEAR FROM {day})", f"EXTRACT(MONTH FROM {day})"
            if connection.vendor == "sqlite":
                year, month = f"strftime('%Y', {day})", f"strftime('%m', {day})"
            cursor.execute(
                f"UPDATE {table} SET {number} = {year} * 12 + {month} - 1 WHERE {key} >= {lowest}"
            )


def _looks(copies: list[Copy]) -> None:
    """Somebody looked at each of the past's records on each day of a visit."""
    low, high = copies[0].keys, copies[-1].keys + _stride()
    n_users = User.objects.count()
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO patients_auditevent (at, user_id, kind, patient_id, what) "
            f"SELECT v.arrived_at, 1 + v.id %% {n_users}, 'look', e.patient_id, 'journey' "
            "FROM attendance_visit v JOIN enrolment_enrolment e ON e.id = v.enrolment_id "
            "WHERE v.arrived_at IS NOT NULL AND v.id BETWEEN %s AND %s ORDER BY v.arrived_at",
            [low, high],
        )


# --- the database -------------------------------------------------------------------------------


def _most(model: Any) -> int:
    return model._default_manager.aggregate(most=models.Max("pk"))["most"] or 0


def _sizes() -> tuple[int, int, int]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT slots, meetings, stride FROM bench_sizes")
        return cursor.fetchone()


def _stride() -> int:
    return _sizes()[2]


class Unchecked:
    """Copied rows are right by construction: no keys are checked one by one meanwhile."""

    def __enter__(self) -> None:
        self._say("PRAGMA foreign_keys = OFF", "SET session_replication_role = replica")

    def __exit__(self, *_: Any) -> None:
        self._say("PRAGMA foreign_keys = ON", "SET session_replication_role = DEFAULT")

    def _say(self, sqlite: str, postgresql: str) -> None:
        with connection.cursor() as cursor:
            cursor.execute(sqlite if connection.vendor == "sqlite" else postgresql)


def _settle() -> None:
    """Keys go on after the highest, and the database knows how large its tables are."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for model in apps.get_models(include_auto_created=True):
                key = model._meta.pk
                if isinstance(key, models.AutoField | models.BigAutoField):
                    table = connection.ops.quote_name(model._meta.db_table)
                    cursor.execute(
                        f"SELECT setval(pg_get_serial_sequence('{table}', '{key.column}'), "
                        f"GREATEST((SELECT MAX({key.column}) FROM {table}), 1))"
                    )
            cursor.execute("VACUUM (ANALYZE)")
        else:
            cursor.execute("ANALYZE")


def clear() -> None:
    """Drop the tables of this module."""
    with connection.cursor() as cursor:
        for name in connection.introspection.table_names(cursor):
            if name.startswith("bench_"):
                cursor.execute(f"DROP TABLE {connection.ops.quote_name(name)}")
