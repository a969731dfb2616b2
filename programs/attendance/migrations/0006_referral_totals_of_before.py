"""What became of the referrals that are there, worked out from the record.

What is worked out here is frozen; ``manage.py verify_totals`` does the same by today's code.
"""

from itertools import groupby

from django.db import migrations

NAMES = [
    "pk", "patient", "patient__site", "patient__sex", "patient__born_on", "referred_on",
    "discharged_on", "condition__happened_on", "condition__kind", "source", "payer", "state",
    "why_not",
]  # fmt: skip
NTH = {2: "second_on", 12: "twelfth_on", 24: "twenty_fourth_on", 36: "thirty_sixth_on"}
CHUNK = 2000


def fill(apps, schema_editor):
    def model(room, name):
        return apps.get_model(room, name).objects

    ReferralTotals = apps.get_model("enrolment", "ReferralTotals")
    answers = dict(
        model("enrolment", "EligibilityAnswer").order_by("at", "pk")
        .values_list("referral", "decision")
    )  # fmt: skip
    spoken = set(
        model("enrolment", "ContactAttempt").filter(outcome="reached")
        .values_list("referral", flat=True)
    )  # fmt: skip
    courses = {
        row["enrolment__referral"]: row
        for row in model("enrolment", "CourseTotals").values(
            "enrolment", "enrolment__referral", "enrolment__closed_on", "planned", "outcome",
            "sessions", "sessions_in_36_weeks", "first_on", "has_exit",
        )
    }  # fmt: skip
    nth = _days_of_sessions(apps.get_model("attendance", "Visit"))
    rows = []
    for row in model("enrolment", "Referral").order_by("pk").values(*NAMES).iterator(CHUNK):
        pk = row["pk"]
        course = courses.get(pk)
        days = nth.get(course["enrolment"], {}) if course else {}
        is_eligible = answers.get(pk) == "eligible"
        rows.append(ReferralTotals(**_columns(row, is_eligible, pk in spoken, course, days)))
        if len(rows) == CHUNK:
            ReferralTotals.objects.bulk_create(rows)
            rows = []
    ReferralTotals.objects.bulk_create(rows)


def _columns(row, is_eligible, is_spoken_to, course, days):
    born, event_on = row["patient__born_on"], row["discharged_on"] or row["condition__happened_on"]
    at = max(event_on or row["referred_on"], born)
    is_reached = is_spoken_to or row["state"] == "seat"
    found = {
        "referral_id": row["pk"],
        "patient_id": row["patient"],
        "site_id": row["patient__site"],
        "referred_on": row["referred_on"],
        "referred_in": row["referred_on"].year * 12 + row["referred_on"].month - 1,
        "condition": row["condition__kind"],
        "source": row["source"],
        "payer_id": row["payer"],
        "sex": row["patient__sex"],
        "age": at.year - born.year - ((at.month, at.day) < (born.month, born.day)),
        "event_on": event_on,
        "is_eligible": is_eligible,
        "is_reached": is_reached,
        "is_closed": row["state"] == "not_enrolling",
        "why_not": row["why_not"],
        "step": (2 if is_reached else 1) if is_eligible else 0,
        "is_over": row["state"] == "not_enrolling",
        "reason": row["why_not"],
    }
    if course is None:
        return found
    first_on, left_on, n = course["first_on"], course["enrolment__closed_on"], course["sessions"]
    steps = [(36, 8 if course["has_exit"] else 7), (24, 6), (12, 5), (1, 4), (0, 3)]
    copied = ["planned", "outcome", "sessions", "sessions_in_36_weeks", "first_on", "has_exit"]
    found |= {name: course[name] for name in copied}
    found |= {
        "left_on": left_on,
        "step": next(step for least, step in steps if n >= least),
        "is_over": left_on is not None,
        "reason": course["outcome"],
        "wait_days": _between(row["referred_on"], first_on),
        "event_days": _between(event_on, first_on),
        "stay_days": _between(first_on, left_on),
    }
    for number, name in NTH.items():
        found[name] = days.get(number)
        found[f"days_to_{number}"] = _between(event_on, days.get(number))
    return found


def _between(since, until):
    return None if since is None or until is None else (until - since).days


def _days_of_sessions(Visit):
    """The day of the second, 12th, 24th and 36th counted session of each course."""
    visits = Visit.objects.filter(counts_first=True) | Visit.objects.filter(counts_second=True)
    days = visits.order_by("enrolment", "on").values_list(
        "enrolment", "on", "counts_first", "counts_second"
    )
    found = {}
    for pk, group in groupby(days.iterator(chunk_size=5000), key=lambda row: row[0]):
        on = [day for _, day, first, second in group for _ in range(first + second)]
        found[pk] = {n: on[n - 1] for n in NTH if len(on) >= n}
    return found


class Migration(migrations.Migration):
    dependencies = [
        ("attendance", "0005_words_of_the_floor"),
        ("enrolment", "0011_referral_totals"),
        ("assessments", "0001_landed_november_2026"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
