"""What is entered in an event's time line with one press. Common practice, no source.

The words are those a record of a resuscitation has a line for; the local emergency plan says what
is done and in which order.
"""

ONE_PRESS = (
    "Help called",
    "Defibrillator on",
    "Shock delivered",
    "Compressions started",
    "Compressions stopped",
    "Ambulance here",
)
