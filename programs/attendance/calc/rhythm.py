"""What staff saw on the monitor, in structured words. The program interprets no waveform.

Which changes count follows the sources named with rules F-03, F-04 and F-20; that the unknown is
read as the danger is a project choice.
"""

from dataclasses import dataclass

RHYTHMS: tuple[tuple[str, str], ...] = (
    ("sinus", "sinus rhythm"),
    ("paced", "paced"),
    ("af", "atrial fibrillation or flutter, known"),
    ("af_new", "atrial fibrillation or flutter, new or fast"),
    ("svt", "supraventricular tachycardia"),
    ("brady", "bradyarrhythmia"),
    ("block_2", "second-degree AV block"),
    ("block_3", "third-degree AV block"),
    ("complex", "complex ventricular ectopy"),
    ("vt", "ventricular tachycardia"),
    ("other", "other"),
)
RHYTHM_WORDS = dict(RHYTHMS)
ST_CHANGES: tuple[tuple[str, str], ...] = (
    ("none", "none"),
    ("depression", "depression, horizontal or downsloping"),
    ("elevation", "elevation"),
)
LEAD_GROUPS: tuple[tuple[str, str], ...] = (
    ("inferior", "II, III, aVF"),
    ("lateral", "I, aVL, V5–V6"),
    ("anterior", "V2–V4"),
    ("right", "aVR, aVL or V1 only"),
)
BLOCKS: tuple[tuple[str, str], ...] = (
    ("none", "none new"),
    ("bundle", "new bundle-branch block or conduction delay"),
    ("av", "new AV block"),
)
UNCONTROLLED = frozenset({"af_new", "svt"})  # at rest, beside "vt", which is an emergency
SLOW = frozenset({"brady", "block_2"})
COMPLEX = frozenset({"complex"})
STOPPING = frozenset({"af_new", "svt", "brady", "block_2", "block_3", "complex"})


@dataclass(frozen=True)
class Rhythm:
    """One record a visit; None means not noted, never normal."""

    before: str = ""
    during: str = ""
    pvc_per_minute: int | None = None
    has_couplets: bool | None = None
    has_triplets: bool | None = None
    is_multiform: bool | None = None
    pvc_is_rising: bool | None = None
    run_beats: int | None = None
    run_rate_bpm: int | None = None
    qrs_before_ms: int | None = None
    qrs_during_ms: int | None = None
    st_change: str = ""
    st_mm: float | None = None
    st_leads: str = ""
    has_q_wave: bool | None = None
    new_block: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing at all was noted."""
        return all(value is None or value == "" for value in vars(self).values())

    @property
    def couplets_or_triplets(self) -> bool | None:
        """True if either was seen, False only if both were denied."""
        if self.has_couplets or self.has_triplets:
            return True
        if self.has_couplets is None or self.has_triplets is None:
            return None
        return False

    @property
    def has_run(self) -> bool | None:
        """A run of ventricular beats, three or more; denied with couplets and triplets."""
        seen = self.run_beats is not None or self.run_rate_bpm is not None
        if seen or self.during == "vt":
            return True
        return self.couplets_or_triplets if self.couplets_or_triplets is False else None


def st_elevation_mm(rhythm: Rhythm) -> float | None:
    """ST elevation that counts: without a Q wave, and not in aVR, aVL or V1 alone.

    An unknown Q wave or lead excuses nothing, and a size without its direction counts as elevation
    and as depression: the safer reading.

    Parameters
    ----------
    rhythm : what was seen at the visit.

    Returns
    -------
    Elevation. [mm], 0 when excused, denied or a depression; None when no change or size is noted.
    """
    if rhythm.st_change in {"elevation", ""} and rhythm.st_mm is not None:
        excused = rhythm.has_q_wave is True or rhythm.st_leads == "right"
        return 0.0 if excused else rhythm.st_mm
    return 0.0 if rhythm.st_change in {"none", "depression"} else None


def st_depression_mm(rhythm: Rhythm) -> float | None:
    """ST depression, horizontal or downsloping.

    Parameters
    ----------
    rhythm : what was seen; a size without its direction counts as depression.

    Returns
    -------
    Depression. [mm], 0 when denied or an elevation; None when no size is noted.
    """
    if rhythm.st_change in {"depression", ""}:
        return rhythm.st_mm
    return 0.0 if rhythm.st_change in {"none", "elevation"} else None


def widened_qrs_ms(rhythm: Rhythm) -> float | None:
    """Width of the QRS during exercise where it is wider than before.

    Parameters
    ----------
    rhythm : what was seen; an unknown width before excuses nothing.

    Returns
    -------
    QRS during exercise. [ms], 0 when it is no wider than before; None when not noted.
    """
    if rhythm.qrs_during_ms is None:
        return None
    if rhythm.qrs_before_ms is not None and rhythm.qrs_during_ms <= rhythm.qrs_before_ms:
        return 0.0
    return rhythm.qrs_during_ms
