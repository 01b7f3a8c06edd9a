"""Each kind of clause over a batch of records; the kinds that cannot be judged so are left.

Every function says what :func:`tussock.review.judged.judge_record` says of the same record, or leaves it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np

from tussock.geodesy import Floats, distance_m
from tussock.measure.clauses import fit, judge_animal
from tussock.measure.scene import Case, Places, Scene
from tussock.permit.condition import Condition, Decided
from tussock.permit.demands import At, Depth, DistanceFromCapture, DistanceTo
from tussock.permit.permit_file import Permit
from tussock.permit.place_kinds import HabitatIn, MaxDistanceFromCapture, MinDistanceFrom, NotWithin, Within
from tussock.permit.record_answers import judge_persons
from tussock.permit.record_facts import ENDED_AS
from tussock.permit.record_hours import TOLERANCE_S
from tussock.permit.record_kinds import DisposedTo, HandledBy, RecordComplete, RecordWithinHours, ReturnDue
from tussock.permit.time_kinds import SECONDS_PER_HOUR, TimeCondition
from tussock.position import Position
from tussock.review.bulk_clock import Wall
from tussock.review.bulk_columns import Code, Codes, Columns, Filled, Index, Mask, code_of
from tussock.review.bulk_ground import Ground, Spots, Tally, verdicts
from tussock.review.bulk_times import judge_time
from tussock.species.animal import Animal

_GROUND = (MaxDistanceFromCapture, MinDistanceFrom, HabitatIn, Within, NotWithin)
_GUARD_S = 1e-5
"""Instants with fractions are good to a microsecond; nearer to a limit they are left [s]."""
_KEYS = 32
"""More than there are months."""


@dataclass(frozen=True, eq=False)
class Batch:
    """Records of a batch with what all clauses ask of them.

    Attributes
    ----------
    ended
        End of holding; the present moment where it goes on [POSIX s].
    named
        Layers that consents name features of.
    """

    columns: Columns
    permit: Permit
    ground: Ground
    wall: Wall
    now: float
    ended: Floats
    captured_day: Index
    ended_day: Index
    named: frozenset[str]
    _spots: dict[tuple[At, bool], Spots] = field(default_factory=dict)

    @staticmethod
    def of(
        columns: Columns, permit: Permit, ground: Ground, wall: Wall, *, now: float, named: frozenset[str]
    ) -> Batch:
        """Return a batch ready to be judged."""
        ended = np.where(np.isnan(columns.disposed), now, columns.disposed)
        days = wall.day(columns.captured), wall.day(ended)
        return Batch(columns, permit, ground, wall, now, ended, *days, named)

    def taken(self, rows: Index) -> Batch:
        """Return some of the records; itself for all of them, so that its places are worked out once."""
        if len(rows) == len(self.columns):
            return self
        days = self.captured_day[rows], self.ended_day[rows]
        some = self.columns.taken(rows), self.permit, self.ground, self.wall, self.now, self.ended[rows]
        return Batch(*some, *days, self.named)

    def spots(self, at: At, *, taking: bool) -> Spots:
        """Return the places of capture or release, on the day of the capture or of the end of holding."""
        if (at, taking) not in self._spots:
            c = self.columns
            lon, lat, radius_m = c.capture_lon, c.capture_lat, c.capture_radius_m
            if at is At.SITE:
                lon, lat = np.where(c.released, c.release_lon, lon), np.where(c.released, c.release_lat, lat)
                radius_m = np.where(c.released, c.release_radius_m, radius_m)
            day = self.captured_day if taking else self.ended_day
            self._spots[at, taking] = self.ground.spots(lon, lat, radius_m, day)
        return self._spots[at, taking]

    @property
    def site(self) -> Places:
        """Where it was let go, or else taken."""
        return self.spots(At.SITE, taking=False).bare

    @property
    def contradicted(self) -> tuple[Mask, Mask]:
        """Which records' times contradict each other: capture and disposal, and the look at the trap too."""
        c, now = self.columns, self.now
        with np.errstate(invalid="ignore"):  # not recorded compares false
            wrong = c.disposed < c.captured - TOLERANCE_S
            for t in (c.captured, c.trap_checked, c.disposed):
                wrong |= now < t - TOLERANCE_S
            unchecked = c.disposed < c.trap_checked - TOLERANCE_S
        return wrong, wrong | unchecked


def judge_clause(condition: Condition, batch: Batch, tally: Tally) -> Codes:
    """Return a clause's verdict for every record of the batch."""
    out = np.full(len(batch.columns), Code.LEFT, dtype=np.uint8)
    misfit, doubt, by_animal = _of_animals(condition, batch)
    fits = np.flatnonzero(~misfit)
    out[misfit] = Code.NO_VERDICT
    if not len(fits):
        return out
    some = batch.taken(fits)
    found = _judged(condition, some, tally, by_animal[fits])
    if condition.decided in (Decided.PLACE, Decided.ANIMAL) and not condition.of_taking:
        found = _of_releases(found, some.columns)
    out[fits] = found
    # as tussock.measure.judging.doubted
    out[doubt & ((out == Code.NOT_MET) | (out == Code.UNCERTAIN))] = Code.MISSING
    return out


def _judged(condition: Condition, batch: Batch, tally: Tally, by_animal: Codes) -> Codes:
    columns = batch.columns
    everywhere = np.full(len(columns), Code.LEFT, dtype=np.uint8)
    if condition.decided is Decided.ANIMAL:
        return by_animal
    if isinstance(condition, _GROUND):
        return _on_ground(condition, batch, tally)
    if isinstance(condition, TimeCondition):
        return judge_time(condition, batch)
    match condition:
        case RecordWithinHours():
            return _delay(batch, condition.limit_h)
        case RecordComplete():
            return _complete(condition, columns)
        case DisposedTo():
            codes = [_disposed(name, condition.disposals) for name in columns.disposals]
            found = np.array(codes, dtype=np.uint8)[columns.disposal]
            return np.where(np.isnan(columns.disposed), np.uint8(Code.NO_VERDICT), found)
        case HandledBy():
            allowed = condition.persons or batch.permit.authorised_persons
            said = [judge_persons(h, allowed=allowed, ended_by=e) for h, e in columns.handlers]
            each = [code_of(one.verdict) for one in said]
            return np.array(each, dtype=np.uint8)[columns.handler]
        case ReturnDue():
            return np.full(len(columns), Code.NO_VERDICT, dtype=np.uint8)
        case _:
            return everywhere


def _of_releases(found: Codes, columns: Columns) -> Codes:
    """Put in what is said of animals that were not released, or nobody wrote down where."""
    otherwise = np.where(columns.said_released, Code.MISSING, Code.NO_VERDICT).astype(np.uint8)
    # what is left is left as a whole: it may be another kind of clause
    return np.where(columns.released, found, otherwise)


def _of_animals(condition: Condition, batch: Batch) -> tuple[Mask, Mask, Codes]:
    """Return whom the clause is not for, whom it may not be for, and what it says where they decide it."""
    columns = batch.columns
    decides = condition.decided is Decided.ANIMAL
    misfit, doubt = np.zeros((2, len(columns)), dtype=bool)
    by_animal = np.full(len(columns), Code.LEFT, dtype=np.uint8)
    if not decides and condition.applies_to is None:
        return misfit, doubt, by_animal
    day = batch.captured_day if condition.of_taking else batch.ended_day
    key = columns.animal * _KEYS + _months(day)
    different, which = np.unique(key, return_inverse=True)
    answers = []
    for k in different:
        animal = columns.animals[int(k) // _KEYS]
        scene = _scene(batch.ground, animal, int(k) % _KEYS)
        said = code_of(judge_animal(condition, scene)[0]) if decides else Code.LEFT
        answers.append((*map(bool, fit(condition, scene)), said))
    misfit, doubt = (np.array([a[n] for a in answers], dtype=bool)[which] for n in (0, 1))
    return misfit, doubt, np.array([a[2] for a in answers], dtype=np.uint8)[which]


def _months(day: Index) -> Index:
    months: Index = day.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    return months


def _scene(ground: Ground, animal: Animal, month: int) -> Scene:
    """Return a scene in a month: clauses about animals ask no more of the day."""
    noon = datetime(2001, month, 1, 12, tzinfo=UTC)
    case = Case(Position(0.0, 0.0, 1.0), ground.stand_in, noon, noon.date(), capture_day=noon.date())
    return Scene(ground.region, replace(case, animal=animal))


def _on_ground(condition: Condition, batch: Batch, tally: Tally) -> Codes:
    """Return the worst of a clause's demands on the ground."""
    worst = np.full(len(batch.columns), Code.MET, dtype=np.uint8)
    if any(not batch.ground.region.has(use.layer) for use in condition.layers()):
        return np.full(len(batch.columns), Code.MISSING, dtype=np.uint8)
    wanted = np.arange(len(worst)) if condition.of_taking else np.flatnonzero(batch.columns.released)
    left = np.zeros(len(worst), dtype=bool)
    for demand in condition.demands():
        asked, limit = demand.quantity, demand.limit
        assert limit is not None  # these kinds have one
        if isinstance(asked, DistanceFromCapture):
            found = verdicts(limit, *_from_capture(batch))[wanted]
            tally.by_bounds += len(wanted)
        else:
            assert isinstance(asked, DistanceTo | Depth)
            taking, at = (asked.taking, asked.at) if isinstance(asked, Depth) else (False, At.SITE)
            spots = batch.spots(at, taking=taking)
            some = spots if len(wanted) == len(worst) else spots.taken(wanted)
            found = batch.ground.judge(asked, limit, some, tally)
        left[wanted] |= found == Code.LEFT
        worst[wanted] = np.maximum(worst[wanted], np.where(found == Code.LEFT, Code.MET, found))
    worst[left] = Code.LEFT
    if (
        isinstance(condition, NotWithin)
        and condition.unless_captured_within
        and condition.layer in batch.named
    ):
        worst[:] = Code.LEFT  # which areas are spared depends on the capture and the consents
    return worst


def _from_capture(batch: Batch) -> tuple[Floats, Floats]:
    """Return the interval of the distance capture–release [m]; both radii add."""
    c, at = batch.columns, batch.spots(At.SITE, taking=False)
    d = distance_m(c.capture_lon, c.capture_lat, at.bare.lon, at.bare.lat)
    widened = c.capture_radius_m + at.radius_m
    return np.maximum(d - widened, 0.0), d + widened


def _delay(batch: Batch, limit_h: float) -> Codes:
    """Return whether records were written in time."""
    c = batch.columns
    event = np.where(np.isnan(c.disposed), c.captured, c.disposed)
    with np.errstate(invalid="ignore"):
        delay, held = c.recorded - event, batch.ended - c.captured
        late = np.maximum(delay, 0.0) - limit_h * SECONDS_PER_HOUR
        out = np.where(late <= TOLERANCE_S, Code.MET, Code.NOT_MET).astype(np.uint8)
        out[(delay < -TOLERANCE_S) | (held < -TOLERANCE_S) | np.isnan(c.recorded)] = Code.MISSING
        parts = [t % 1 != 0 for t in (c.recorded, event, c.captured, batch.ended)]
        near = [np.abs(x) <= _GUARD_S for x in (late - TOLERANCE_S, delay + TOLERANCE_S, held + TOLERANCE_S)]
        out[np.any(parts, axis=0) & np.any(near, axis=0)] = Code.LEFT
    return out


def _complete(condition: RecordComplete, columns: Columns) -> Codes:
    """Return whether the fields are filled in: an empty one is worse than a column that is not there."""
    absent, empty, of_the_end = (np.zeros(len(columns), dtype=bool) for _ in range(3))
    for name in condition.fields:
        there = columns.filled.get(name)
        if there is None:
            absent[:] = True
            continue
        absent |= there == Filled.ABSENT
        if name == ENDED_AS:
            of_the_end = there == Filled.EMPTY
        else:
            empty |= there == Filled.EMPTY
    not_due = of_the_end & np.isnan(columns.disposed) & ~empty & ~absent
    found = np.where(empty | of_the_end, Code.NOT_MET, np.where(absent, Code.MISSING, Code.MET))
    return np.where(not_due, Code.NO_VERDICT, found).astype(np.uint8)


def _disposed(name: str, allowed: tuple[str, ...]) -> Code:
    if not name:
        return Code.MISSING
    return Code.MET if name in allowed else Code.NOT_MET
