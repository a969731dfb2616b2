"""Days on which the invented clinic is closed, and those on which its classes meet."""

from datetime import date, timedelta


def holidays(today: date) -> list[tuple[date, str]]:
    """The closures of three calendar years; a holiday that is today stays open for the demo."""
    days = []
    for year in range(today.year - 1, today.year + 2):
        first = date(year, 11, 1)
        thanks = first + timedelta(days=(3 - first.weekday()) % 7 + 21)
        days += [
            (date(year, 1, 1), "New Year’s Day"),
            (date(year, 7, 4), "Independence Day"),
            (thanks, "Thanksgiving"),
            (date(year, 12, 25), "Christmas Day"),
        ]
    return [(day, why) for day, why in days if day != today]


def class_days(weekday: int) -> dict[str, list[int]]:
    """Weekdays of the three-day and the two-day classes; today is always a three-day one."""
    if weekday in (1, 3):
        return {"three": [1, 3, 4], "two": [0, 2]}
    return {"three": [0, 2, weekday if weekday > 4 else 4], "two": [1, 3]}
