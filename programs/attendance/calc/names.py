"""What a finding is called in a few words, where its whole sentence would be too long.

The names are a project choice; what each rule says and where it comes from stands with the rule.
"""

from programs.attendance.calc.questions import BY_ID
from programs.enrolment.calc import screen

NAMES: dict[tuple[str, str], str] = {
    ("E-01", ""): "High resting systolic",
    ("E-02", ""): "High resting diastolic",
    ("E-03", ""): "Systolic drop on standing",
    ("E-04", ""): "Resting heart rate",
    ("E-04", "slow"): "Slow resting heart rate",
    ("E-05", ""): "Uncontrolled or new arrhythmia at rest",
    ("E-05", "vt"): "Ventricular tachycardia at rest",
    ("E-05", "ectopy"): "Complex ventricular ectopy at rest",
    ("E-05", "slow"): "Bradyarrhythmia or second-degree AV block",
    ("E-06", ""): "Third-degree AV block",
    ("E-10", ""): "Weight gain in three days",
    ("E-13", ""): "Fever",
    ("E-16", "event"): "Recent event",
    ("E-16", "mi"): "Recent heart attack, heart failure",
    ("E-17", ""): "Low resting systolic",
    ("E-18", ""): "Low resting oxygen saturation",
    ("E-19", "event"): "Event not reviewed yet",
    ("E-19", "other event"): "Event not reviewed yet",
    ("E-20", ""): "Complex ventricular ectopy, heart failure",
    ("E-20", "nyha"): "NYHA class IV",
    ("E-31", ""): "Return not confirmed yet",
    ("E-entry", ""): "Entry screen says not yet",
    ("H-08", ""): "Heart rate above the upper limit",
    ("H-08", "unknown"): "Detection rate not on record",
    ("H-08", "rest"): "Heart rate near the detection rate",
    ("H-08", "device"): "Heart rate near the detection rate",
    ("H-08", "after"): "Heart rate near the detection rate",
    ("G-01", ""): "Low glucose",
    ("G-01", "during"): "Low glucose in exercise",
    ("G-02", ""): "Level 2 low glucose",
    ("G-02", "during"): "Level 2 low glucose in exercise",
    ("G-05", ""): "Glucose below the start level",
    ("G-05", "high"): "High glucose",
    ("G-05", "raised"): "Raised glucose",
    ("G-05", "untested"): "Ketones not tested",
    ("G-05", "ketones"): "Ketones moderate or large",
    ("G-06", ""): "Level 2 low in the last 24 hours",
    ("G-06", "help"): "Severe low in the last 24 hours",
    ("G-07", ""): "Low glucose in the last 24 hours",
    ("G-08", ""): "Very high glucose",
    ("G-09", ""): "Low glucose after exercise",
    ("G-09", "during"): "Glucose below the start level in exercise",
    ("G-mask", ""): "Beta-blocker may hide a low",
    ("F-01", ""): "Systolic falls or fails to rise",
    ("F-02", "systolic"): "High systolic in exercise",
    ("F-02", "diastolic"): "High diastolic in exercise",
    ("F-03", ""): "ST elevation",
    ("F-04", ""): "ST depression",
    ("F-05", ""): "Ventricular tachycardia",
    ("F-06", ""): "Arrhythmia in exercise",
    ("F-06", "block"): "New AV block",
    ("F-07", ""): "Ventricular run",
    ("F-07", "rising"): "PVCs more frequent",
    ("F-08", "bundle"): "New bundle branch block",
    ("F-09", ""): "Angina in exercise",
    ("F-11", "grade"): "Dyspnea in exercise",
    ("F-12", ""): "Low oxygen saturation in exercise",
    ("F-12", "symptoms"): "Low oxygen saturation with symptoms",
    ("F-12", "fall"): "Oxygen saturation fell, with symptoms",
    ("F-20", ""): "QRS widened",
    ("F-21", ""): "Frequent PVCs",
    ("F-22", ""): "Couplets or triplets",
    ("F-23", ""): "Run of ventricular tachycardia",
    ("F-24", ""): "Multiform PVCs",
    ("R-01", ""): "Low systolic after exercise",
    ("R-02", ""): "Systolic well below the resting one",
    ("R-03", "rate"): "High heart rate after exercise",
    ("R-03", "settled"): "Heart rate not settled yet",
    ("R-04", "systolic"): "High systolic after exercise",
    ("R-04", "diastolic"): "High diastolic after exercise",
    ("R-05", ""): "Low oxygen saturation after exercise",
    ("R-06", "angina"): "Angina in recovery",
}
SCREENED = {question.id: question.asks for question in screen.QUESTIONS}


def name_of(rule_id: str, about: str) -> str:
    """A finding in a few words.

    Parameters
    ----------
    rule_id : id of the rule, such as "E-01".
    about : what the finding is about, as ``rules.about`` writes it.

    Returns
    -------
    Its name, behind the bout it belongs to; of a question what it asks, of a criterion of the entry
    screen that criterion. The id where none of them is known, as of a rule that is gone.
    """
    of, _, place = about.partition("@")
    if (rule_id, of) in NAMES:
        name = NAMES[rule_id, of]
    elif of in BY_ID:
        name = BY_ID[of].asks
    else:
        name = SCREENED.get(rule_id, rule_id)
    return f"Bout {place}: {name}" if place else name
