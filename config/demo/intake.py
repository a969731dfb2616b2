"""The demo's intake: payers and policies, papers, calls, background, entry screen and risk."""

import random
from datetime import date, timedelta
from typing import Any

from config.demo.story import Character
from patients.history import save_as
from patients.models import (
    Allergy,
    Condition,
    Device,
    Medicine,
    Patient,
    Precaution,
    PrecautionProtocol,
    Procedure,
)
from programs.enrolment.calc import screen
from programs.enrolment.models import ContactAttempt, Payer, Referral, SiteRuleSet
from programs.enrolment.referrals import services as referrals
from programs.enrolment.risk import services as risk_services
from programs.staff.models import Site, User

OPERATED = {"cabg": "sternum", "valve": "sternum", "transplant": "sternum"}
SOURCES = {"cabg": "surgeon", "valve": "surgeon", "stable_angina": "clinic"}


class Intake:
    """Everything between a letter and a first session."""

    def __init__(
        self, clinic: dict[str, Any], clinician: User, sites: list[Site], rng: random.Random
    ) -> None:
        self.clinic, self.clinician, self.rng = clinic, clinician, rng
        self.payers: dict[int, list[Payer]] = {}
        for site in sites:
            self._policies(site)

    def _policies(self, site: Site) -> None:
        own = SiteRuleSet.copy_of("general", site=site, name="Harbour contract", valve_months=18)
        own.source = "contract with Harbour Mutual, invented for this demo"
        save_as(own, by=self.clinician)
        rows = [
            Payer(site=site, name="Medicare", shipped="medicare"),
            Payer(site=site, name="Commercial", shipped="general"),
            Payer(site=site, name="Harbour Mutual", own=own),
        ]
        for row in rows:
            save_as(row, by=self.clinician)
        self.payers[site.pk] = rows
        for access, words, days in [
            ("sternum", "nothing over 10 lb with one or both arms until the surgeon agrees", 84),
            ("femoral", "nothing over 10 lb for a week", 7),
            ("radial", "nothing over 10 lb with this arm for four days", 4),
            ("pocket", "arm not above the shoulder until the device clinic agrees", 42),
        ]:
            source = "this site’s protocol, invented for this demo"
            protocol = PrecautionProtocol(
                site=site, access=access, instruction=words, days=days, source=source
            )
            save_as(protocol, by=self.clinician)

    def refer(
        self, person: Character, patient: Patient, condition: Condition, referral: Referral
    ) -> Referral:
        """Who sent them and who pays; one in six has a second condition."""
        medicare, commercial, harbour = self.payers[patient.site_id]
        age = person.referred_on.year - person.born_on.year
        referral.payer = medicare if age >= 65 else [commercial, harbour][person.number % 2]
        referral.source = SOURCES.get(person.kind, "ward")
        if person.discharged_on is not None:
            referral.admitted_on = person.event_on
        others = []
        if person.kind == "mi" and person.number % 2 == 0:
            others.append(Condition(kind="pci", happened_on=person.event_on, icd10="Z95.5"))
        return referrals.refer(patient, condition, referral, others, by=self.clinician)

    def background(self, person: Character, patient: Patient) -> None:
        since = person.event_on
        rows: list[Any] = []
        if person.has_beta_blocker:
            rows.append(
                Medicine(name="metoprolol 50 mg", drug_class="beta_blocker", started_on=since)
            )
        rows.append(Medicine(name="atorvastatin 40 mg", drug_class="statin", started_on=since))
        if person.has_insulin:
            rows.append(Medicine(name="insulin glargine", drug_class="insulin"))
        if person.has_icd:
            rows.append(Device(kind="icd", detection_bpm=150, detection_read_on=since))
        if person.number % 11 == 0:
            rows.append(Allergy(substance="adhesive tape", reaction="rash"))
        if access := OPERATED.get(person.kind):
            rows.append(Procedure(kind=person.kind, performed_on=since, access=access))
            rows.append(self._sternum(patient, since))
        for row in rows:
            row.patient = patient
            save_as(row, by=self.clinician)
        self._details(person, patient)

    def _sternum(self, patient: Patient, since: date) -> Precaution:
        review = since + timedelta(weeks=12)
        lifted = review if review < patient.site.today() else None
        words = "nothing over 10 lb, as the surgeon wrote"
        return Precaution(kind="sternum", instruction=words, review_on=review, lifted_on=lifted)

    def _details(self, person: Character, patient: Patient) -> None:
        if person.role in {"waiting", "not_enrolling"}:
            return
        patient.emergency_name = f"{self.rng.choice(self.clinic['given_female'])} {person.family}"
        patient.emergency_relation = self.rng.choice(["spouse", "daughter", "son", "sister"])
        patient.emergency_phone = f"555-{4000 + person.number}"
        patient.language, patient.needs_interpreter = "English", False
        patient.mobility_aid = "stick" if person.walk_m < 260 else "none"
        patient.tobacco = self.rng.choice(["never", "never", "former", "former", "current"])
        patient.has_no_allergies = person.number % 11 != 0
        save_as(patient, by=self.clinician)

    def work_on(self, referral: Referral, person: Character) -> None:
        """Some waiting referrals were called, some confirmed, some wait for papers or a seat."""
        today = referral.patient.site.today()
        if person.number % 5 == 0:
            referrals.ask_for(referral, ["order", "discharge"], "ward 4", today, by=self.clinician)
        if person.number % 4 == 0:
            referrals.receive_document(referral, "order", today, by=self.clinician)
        if person.number % 2:
            referrals.assign(referral, self.clinician, by=self.clinician)
        if person.number % 3 == 0:
            outcome = self.rng.choice(["message", "no_answer", "reached"])
            attempt = ContactAttempt(
                referral=referral,
                by=self.clinician,
                outcome=outcome,
                next_try_on=None if outcome == "reached" else today + timedelta(days=2),
            )
            referrals.log_contact(attempt, by=self.clinician)
        if person.number % 2 == 0:
            said = referrals.judge(referral, today)
            if said.outcome == "eligible":
                referrals.confirm_eligibility(referral, "eligible", today, by=self.clinician)
                if person.number % 7 == 0:
                    referrals.wait_for_seat(referral, 2, "13", by=self.clinician)

    def stratify(self, person: Character, patient: Patient) -> None:
        """Screened and stratified before the first session; a few not yet."""
        if person.number % 10 == 9:
            return
        answers: dict[str, Any] = {question.id: False for question in screen.QUESTIONS}
        answers |= {"E-01": person.systolic, "E-02": 78, "E-04": 68, "E-18": 97, "E-03": 6}
        answers["E-10"] = 0.2
        risk_services.record_screen(
            patient,
            answers,
            "may_start",
            "pressure discussed with the physician" if person.systolic > 160 else "",
            has_heart_failure=person.kind == "heart_failure",
            by=self.clinician,
        )
        failing = person.kind == "heart_failure"
        risk_services.record_risk(
            patient,
            {
                "test_arrhythmia": False,
                "test_symptoms": "none",
                "st_depression_mm": 1.0 if person.kind == "stable_angina" else 0,
                "abnormal_haemodynamics": False,
                "capacity_mets": round(3 + person.walk_m / 90, 1),
                "lvef_percent": 31 if failing else 42 + person.number % 20,
                "rest_arrhythmia": False,
                "complicated": person.number % 9 == 0,
                "heart_failure": failing,
                "ischaemia_after": False,
                "arrest": False,
                "icd": person.has_icd,
                "depression": None if person.number % 6 == 0 else person.phq9 >= 10,
            },
            "",
            has_test=person.number % 3 != 0,
            by=self.clinician,
        )
