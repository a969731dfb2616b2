"""Limits at rest that bar or question exercise: for the entry screen and before every session.

Each is the initial setting of this program; local protocol comes first.
"""

PRESSURE_LIST = "PMC10959113 (2024) Table 1, doi:10.2147/IBPC.S449086"
HEART_FAILURE_LIST = "European Respiratory Review Table 3 (training in chronic heart failure)"
HEART_ONLINE = "HeartOnline, exercise safety considerations"
ENROLMENT_LIST = "BMJ Open, Table 1: contraindications to be considered during enrolment"
PRACTICE = "common practice, no source"

SYSTOLIC_HOLD_ABOVE = 180  # mmHg, absolute
SYSTOLIC_CAUTION_ABOVE = 160  # mmHg, relative
DIASTOLIC_HOLD_ABOVE = 110  # mmHg, absolute
DIASTOLIC_CAUTION_ABOVE = 100  # mmHg, relative
HEART_RATE_HOLD_ABOVE = 120  # /min
HEART_RATE_CAUTION_FROM = 100  # /min, in heart failure; from memory for others
WEIGHT_GAIN_KG = 1.8  # in one to three days, heart failure
SPO2_HOLD_BELOW = 90  # %; texts name 88 to 90, the stricter end is the default
ORTHOSTATIC_FALL_MMHG = 20  # more than this, with symptoms, bars; reaching it is a caution
SYSTOLIC_LOW_BELOW = 90  # mmHg
