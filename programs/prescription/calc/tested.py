"""Whether a test still speaks for somebody (what is asked about is a project choice)."""

from datetime import date

from patients.calc.days import in_words


def why_asked(
    tested_on: date, event_on: date | None, day: date, changed_on: date | None = None
) -> str:
    """Why a test needs a reason before a dose is built on it.

    A test from before the qualifying event knows nothing of it. One older than a year knows nothing
    of medicine and fitness since; common practice, no source.

    Parameters
    ----------
    tested_on : day of the test.
    event_on : day of the qualifying event; None when it is not known.
    day : day of the prescription.
    changed_on : day on which a medicine that acts on the heart rate was last started or stopped;
        None when no such day is known. Targets come from a test on current medicines: from memory.

    Returns
    -------
    What speaks against it, in words; "" from the day of the event on and up to the same day a year
    later.
    """
    if event_on is not None and tested_on < event_on:
        return f"tested {in_words(tested_on)}, before the event of {in_words(event_on)}"
    if changed_on is not None and tested_on < changed_on <= day:
        words = f"before a medicine that acts on the rate changed ({in_words(changed_on)})"
        return f"tested {in_words(tested_on)}, {words}"
    # Compared part by part, so that 29 February needs no day of its own in the next year.
    if (tested_on.year + 1, tested_on.month, tested_on.day) < (day.year, day.month, day.day):
        return f"tested {in_words(tested_on)}, more than a year ago"
    return ""
