"""What the invented people score; a mean gain of about 58 m of walking (from memory)."""

import random
from typing import Any

from config.demo.story import Character


def results(
    person: Character, share: float, kind: str, rng: random.Random
) -> dict[str, dict[str, Any]]:
    """Raw inputs of the tests at a share of the course, 0 the baseline and 1 the exit."""
    weight = round(person.weight_kg - 1.6 * share, 1)
    size = {"weight_kg": weight, "height_cm": float(person.height_cm)}
    systolic = min(170, max(96, round(person.systolic - 8 * share + rng.gauss(0, 4))))
    found: dict[str, dict[str, Any]] = {
        "resting_heart_rate": {
            "heart_rate_bpm": (64 if person.has_beta_blocker else 73) + rng.randint(-4, 4)
        },
        "resting_blood_pressure": {
            "systolic_mmhg": systolic,
            "diastolic_mmhg": round(systolic * 0.59),
        },
        "body_mass_index": size,
    }
    if kind == "informal":
        return found
    gain = max(-20, rng.gauss(58, 26)) * share
    walk = min(680, round(person.walk_m + gain))
    stand = max(6.0, round(17.5 - person.walk_m / 80 - 2.1 * share + rng.gauss(0, 0.6), 1))
    pace = 0.55 + person.walk_m / 900 + 0.08 * share
    return (
        found
        | {
            "oxygen_saturation": {"spo2_percent": rng.choice([95, 96, 97, 98])},
            "six_minute_walk": {
                "distance_m": float(walk),
                "course_m": 30.0,
                "is_second_walk": True,
                **size,
            },
            "five_times_sit_to_stand": {"seconds": stand, "is_completed": True},
            "chair_stand_30s": {"stands": max(3, round(person.walk_m / 38 + 2 * share))},
            "gait_speed": {
                "course_m": 4.0,
                "first_s": round(4 / pace, 2),
                "second_s": round(4 / pace - 0.05, 2),
            },
            "phq9": phq9(person, share),
        }
        | risk_factors(person, share, rng)
    )


def risk_factors(person: Character, share: float, rng: random.Random) -> dict[str, dict[str, Any]]:
    """Lipids of three in four, and what everybody does in a week."""
    found: dict[str, dict[str, Any]] = {
        "activity_minutes": {
            "moderate_min": round((30 + person.number % 7 * 10) * (1 + 1.6 * share)),
            "vigorous_min": 0,
        },
        "tobacco": {"status": 1 if person.number % 5 else (3 if share < 0.5 else 1)},
    }
    if person.number % 4:
        total = round(188 - 34 * share + rng.gauss(0, 12))
        found["non_hdl_cholesterol"] = {
            "total": float(total),
            "hdl": float(38 + person.number % 20),
            "triglycerides": float(round(150 - 22 * share + rng.gauss(0, 15))),
        }
    return found


def phq9(person: Character, share: float) -> dict[str, int]:
    """Items 1 to 8 share the total; most people above 4 drop a category by the exit."""
    better = person.number % 4 != 0
    total = max(0, round(person.phq9 * (1 - (0.55 if better else 0.1) * share)))
    items = {f"item{n}": 0 for n in range(1, 10)}
    for n in range(total):
        items[f"item{n % 8 + 1}"] = min(3, items[f"item{n % 8 + 1}"] + 1)
    if person.wants_talk and share == 0:
        items["item9"] = 1
    return items
