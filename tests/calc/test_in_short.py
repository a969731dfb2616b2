"""A finding in a few words never says another number than the one measured."""

import pytest

from programs.attendance.calc.catalogue import RULES
from programs.attendance.calc.in_short import in_short


@pytest.mark.parametrize(
    ("sentence", "short"),
    [
        ("Systolic 188 is above this program’s limit of 180 before exercise.", "Systolic 188"),
        ("Systolic is 24 below the pressure before exercise; the limit is 20.",
         "24 below rest, systolic"),
        ("Heart rate is still 38 above the rate before exercise; the limit is 20.",
         "38 above rest, heart rate"),
        ("Heart rate is 8 beats below the device’s detection rate; the least is 10.",
         "8 below ICD limit, heart rate"),
        ("Bout 1: Heart rate is 4 beats above this person’s own upper limit: lower the load.",
         "4 above own limit, heart rate"),
        ("Bout 2: Oxygen saturation 87 % in exercise is below 88 %.", "Oxygen saturation 87 %"),
        ("Bout 1: 7 PVCs per minute; from 6 stop and reassess.", "7 PVCs per minute"),
        ("Weight is up 3.0 kg (6.6 lb) within three days; the limit in heart failure is 1.8 kg.",
         "Weight up 3.0 kg"),
        ("Only 12 days since the last event on record; a clinician clears the return.",
         "Only 12 days since the last event on record"),
        ("ST depression of 2.5 mm; from 2 mm stop.", "ST depression of 2.5 mm"),
        ("Temperature 38.5 °C is above 38 °C.", "Temperature 38.5 °C"),
    ],
)  # fmt: skip
def test_a_finding_in_a_few_words(sentence, short):
    assert in_short("E-01", "systolic_mmhg", sentence) == short


def told(rule, value):
    return rule.sentence.format(value=value, limit=rule.limit, detail="detail")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: f"{rule.id}-{rule.subject}")
def test_no_short_form_reads_as_another_value(rule):
    """Of every rule: a number beside a vital sign is its reading, or says what it differs from."""
    sentence = told(rule, 24)
    for words in (sentence, f"Bout 3: {sentence}"):
        short = in_short(rule.id, rule.subject[1], words)
        assert short
        assert not short.startswith("Bout 3: ")
        assert "Bout" not in short
        differs = any(way in sentence for way in ("24 below ", "24 above ", "24 beats "))
        assert short.startswith("24 ") is (differs or sentence.startswith("24 "))
