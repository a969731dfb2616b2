"""Who may what: one table. A role grants permissions; sites decide whose records."""

from django.db import models


class Role(models.TextChoices):
    FLOOR = "floor", "Floor staff"
    CLINICIAN = "clinician", "Clinician"
    PHYSICIAN = "physician", "Physician"
    MANAGER = "manager", "Manager"
    ADMINISTRATOR = "administrator", "Administrator"


READ_CHART = {
    "patients.view_patient",
    "enrolment.view_enrolment",
    "prescription.view_prescription",
    "prescription.view_uncovered",
    "attendance.view_visit",
    "assessments.view_assessment",
    "reports.view_due",
    "reports.view_outcomes",
    "enrolment.view_classslot",
    "attendance.view_safetyevent",
    "attendance.view_sitelimit",
    "staff.view_openingcheck",
}
TAKE_IN = {
    "enrolment.view_referral",
    "enrolment.add_referral",
    "enrolment.change_referral",
}
KEEP_TIMETABLE = {
    "enrolment.view_classslot",
    "enrolment.change_classslot",
    "enrolment.add_closure",
}
RUN_CLASS = {
    "attendance.add_visit",
    "attendance.acknowledge_finding",
    "attendance.add_safetyevent",
    "staff.add_openingcheck",
    "patients.add_background",
}
KEEP_READY = {"staff.view_openingcheck", "staff.add_drill", "staff.change_card"}

PERMISSIONS: dict[str, set[str]] = {
    Role.FLOOR: READ_CHART | RUN_CLASS | {"enrolment.view_referral"},
    Role.CLINICIAN: READ_CHART
    | RUN_CLASS
    | TAKE_IN
    | {
        "enrolment.confirm_eligibility",
        "enrolment.add_enrolment",
        "enrolment.change_enrolment",
        "enrolment.stratify",
        "enrolment.add_closure",
        "enrolment.view_payer",
        "attendance.review_event",
        "attendance.decide_hold",
        "attendance.add_personlimit",
        "staff.add_drill",
        "prescription.add_prescription",
        "prescription.add_plan",
        "assessments.add_assessment",
        "assessments.close_concern",
        "reports.view_program",
        "reports.export_program",
        "reports.view_changes",
    },
    # Only a physician signs (42 CFR 410.49), and others where a site says that local law allows it
    # (programs/prescription/signing.py).
    Role.PHYSICIAN: READ_CHART
    | {
        "enrolment.view_referral",
        "enrolment.confirm_eligibility",
        "enrolment.stratify",
        "enrolment.view_payer",
        "patients.add_background",
        "attendance.acknowledge_finding",
        "attendance.add_safetyevent",
        "attendance.review_event",
        "attendance.decide_hold",
        "attendance.add_personlimit",
        "attendance.change_sitelimit",
        "prescription.add_prescription",
        "prescription.add_plan",
        "prescription.sign_plan",
        "assessments.close_concern",
        "reports.view_program",
        "reports.export_program",
        "reports.view_changes",
    },
    Role.MANAGER: TAKE_IN
    | {
        "reports.view_due",
        "reports.view_program",
        "prescription.view_uncovered",
        "reports.export_program",
        "reports.export_people",
        "reports.change_programtargets",
        "enrolment.view_payer",
        "attendance.view_sitelimit",
    }
    | KEEP_READY
    | KEEP_TIMETABLE,
    Role.ADMINISTRATOR: {
        "enrolment.view_referral",
        "enrolment.add_referral",
        "staff.change_setting",
        "staff.view_looks",
        "staff.view_site",
        "staff.add_site",
        "staff.change_site",
        "staff.view_user",
        "staff.add_user",
        "staff.change_user",
        "staff.view_credential",
        "staff.add_credential",
        "staff.change_credential",
        "enrolment.view_payer",
        "enrolment.change_payer",
        "enrolment.change_siteruleset",
        "attendance.view_sitelimit",
        "attendance.change_sitelimit",
    }
    | KEEP_READY
    | KEEP_TIMETABLE,
}

HOME: dict[str, str] = {
    Role.FLOOR: "attendance:today",
    Role.CLINICIAN: "reports:due",
    Role.PHYSICIAN: "reports:due",
    Role.MANAGER: "reports:program",
    Role.ADMINISTRATOR: "staff:settings",
}
