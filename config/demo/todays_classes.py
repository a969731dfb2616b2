"""Today in the demo, played through the floor's own services."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from config.demo.lifting import has_begun
from config.demo.sessions import NO_TO_ALL, Sessions
from config.demo.story import Character
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet
from programs.attendance.sheet.services import save_sheet
from programs.attendance.visit import services as floor
from programs.enrolment.models import Enrolment, PlannedSession
from programs.staff.models import Site, User

# What the invented class did not measure.
WHY: Any = {"not_taken": {"": "the only scale and meter are in the other room today"}}
WHY |= {"decided_by": "the supervising physician"}


class Today:
    """Half of today's classes are over, the one in the middle is running."""

    def __init__(
        self, sessions: Sessions, by: User, courses: Sequence[tuple[Character, Enrolment]]
    ) -> None:
        self.sessions, self.by = sessions, by
        self.people = {course.pk: who for who, course in courses if who.role == "active"}

    def play(self, sites: Iterable[Site], on: date) -> None:
        for site in sites:
            planned = list(
                PlannedSession.objects.filter(slot__site=site, on=on)
                .select_related("slot__site", "enrolment__patient")
                .order_by("slot__starts_at", "pk")
            )
            times = sorted({p.slot.starts_at for p in planned})
            for p in planned:
                place = times.index(p.slot.starts_at)
                rank = [q for q in planned if q.slot_id == p.slot_id].index(p)
                if p.enrolment_id in self.people and place <= len(times) // 2:
                    self._visit(p, is_over=place < len(times) // 2, rank=rank)

    def _visit(self, p: PlannedSession, *, is_over: bool, rank: int) -> None:
        """The fourth is absent; in the running class the second is held, the third just came."""
        if rank == 3:
            floor.mark_absent(p, "transport", by=self.by)
            return
        if not is_over and rank > 3:
            return
        visit = floor.arrive(p, by=self.by)
        if not is_over and rank == 2:
            return
        state = "held" if not is_over and rank == 1 else "finished"
        sheet = self.sessions.sheet(self.people[p.enrolment_id], 12, state)
        if not has_begun(p.enrolment.starts_on, p.on):
            sheet = replace(sheet, bouts=sheet.bouts[:2])  # the machines alone
        step = "start" if is_over or rank == 0 else "save"
        before = Sheet(
            before=sheet.before,
            answers=NO_TO_ALL,
            has_ecg=True,
            rhythm=Rhythm(before="sinus", qrs_before_ms=92),
            has_exercise_part=False,
        )
        result = save_sheet(visit, before, step, seen=visit.version, key=None, by=self.by, **WHY)
        if is_over:
            visit = result.visit
            if result.barred_by:  # somebody who should not start today is held, in a demo too
                save_sheet(visit, before, "hold", seen=visit.version, key=None, by=self.by)
                return
            save_sheet(visit, sheet, "finish", seen=visit.version, key=None, by=self.by, **WHY)
