from datetime import date

import factory
from factory.django import DjangoModelFactory

from patients.models import (
    Allergy,
    BodyWeight,
    Condition,
    Device,
    Medicine,
    Patient,
    Precaution,
    PrecautionProtocol,
    Procedure,
)
from tests.factories.staff import SiteFactory


class PatientFactory(DjangoModelFactory):
    class Meta:
        model = Patient

    site = factory.SubFactory(SiteFactory)
    record_number = factory.Sequence(lambda n: f"R-{n}")
    given_name = "Ada"
    family_name = factory.Sequence(lambda n: f"Venn{n}")
    born_on = date(1960, 5, 4)
    sex = "female"


class ConditionFactory(DjangoModelFactory):
    class Meta:
        model = Condition

    patient = factory.SubFactory(PatientFactory)
    kind = "pci"
    happened_on = date(2026, 1, 10)
    icd10 = "Z95.5"


class MedicineFactory(DjangoModelFactory):
    class Meta:
        model = Medicine

    patient = factory.SubFactory(PatientFactory)
    name = "metoprolol"
    drug_class = "beta_blocker"


class DeviceFactory(DjangoModelFactory):
    class Meta:
        model = Device

    patient = factory.SubFactory(PatientFactory)
    kind = "icd"


class ProcedureFactory(DjangoModelFactory):
    class Meta:
        model = Procedure

    patient = factory.SubFactory(PatientFactory)
    kind = "cabg"
    performed_on = date(2026, 1, 10)
    access = "sternum"


class BodyWeightFactory(DjangoModelFactory):
    class Meta:
        model = BodyWeight

    patient = factory.SubFactory(PatientFactory)
    on = date(2026, 1, 10)
    kg = 80.0


class AllergyFactory(DjangoModelFactory):
    class Meta:
        model = Allergy

    patient = factory.SubFactory(PatientFactory)
    substance = "latex"


class PrecautionFactory(DjangoModelFactory):
    class Meta:
        model = Precaution

    patient = factory.SubFactory(PatientFactory)
    kind = "sternum"
    instruction = "nothing over 10 lb"


class ProtocolFactory(DjangoModelFactory):
    class Meta:
        model = PrecautionProtocol

    site = factory.SubFactory(SiteFactory)
    access = "sternum"
    instruction = "nothing over 10 lb, as the surgeon wrote"
    days = 84
    source = "site protocol"
