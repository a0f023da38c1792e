"""From a judged job to pieces of work: by task and place, with who they take and what they wait for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import combinations

from rehang.calc.schedule import Activity, Need, Project, Resource, ThreePoint
from rehang.trade.facts.job_facts import Person
from rehang.trade.facts.tasks import Task
from rehang.trade.gate.who import is_in, lookers, workers
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.known.went_in import part_for
from rehang.trade.plan.plan_pieces import Arrival, Piece, Pieces, PlanAsked, fitting_task, moment
from rehang.trade.plan.supply import crew_of, hours, local, merged, spread, supply
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.task_states import TaskWork, WorkPlace
from rehang.trade.work.todo import minutes_left
from rehang.trade.work.traces import asks_again

__all__ = ["IN_HAND_AT", "LOOK_MINUTES", "pieces_of"]

# A second look, least, likely and most minutes: a guess, no source.
LOOK_MINUTES = (10.0, 15.0, 30.0)

# A delivery is counted on from noon of its day: a choice, no source.
IN_HAND_AT = time(12)

# Work whose second look comes in the middle of it is taken to be half done by then: a choice.
BEFORE_THE_LOOK = 0.5

# How far past everything that is known the shop's calendar is drawn.
MARGIN_DAYS = 60

# Where the tasks stand in a sentence about what keeps them out of the plan.
_TASKS = "<tasks>"
# So many of them are named; of more, how many there are besides.
_NAMED = 4


def pieces_of(judged: JudgedJob, origin: datetime, asked: PlanAsked) -> Pieces:
    """The pieces of everything that is left, from ``origin`` on the shop's clock (naive)."""
    return _Cutter(judged, origin, asked).cut()


@dataclass(frozen=True, slots=True)
class _Group:
    """Places of one task that are released together."""

    ready: bool
    release: int | None
    places: tuple[WorkPlace, ...]
    waits: tuple[Arrival, ...]


class _Cutter:
    """Cuts a job into pieces; lives only inside :func:`pieces_of`."""

    def __init__(self, judged: JudgedJob, origin: datetime, asked: PlanAsked) -> None:
        self.judged = judged
        self.facts = judged.facts
        self.work = judged.work
        self.origin = origin
        self.asked = asked
        self.pieces: dict[str, Piece] = {}
        # What comes after a task waits for these: a look where there is one, else all its work.
        self.last: dict[str, tuple[Need, ...]] = {}
        self.supply = {name: supply(judged, name, asked) for name in self.facts.parts}
        self.arrivals: list[Arrival] = []
        self.notes: list[str] = []
        self.stuck: dict[str, list[str]] = {}
        # What keeps pieces out in the same words, of one task and of several, with those tasks.
        self.alike: dict[tuple[str, str], list[tuple[str, str]]] = {}
        self.not_ordered: list[str] = []
        self.new_for = self._new_items()

    def cut(self) -> Pieces:
        ends = [one for one in self.work.tasks.values() if self._is_planned(one)]
        closing = max(ends, key=lambda one: one.task.order).task.id if ends else ""
        for one in self._in_order():
            self._task(one, closing)
        hands, pool = self._people()
        project = self._project(hands, pool) if self.pieces else None
        self._say_alike()
        return Pieces(
            origin=self.origin,
            ordered_on=self.asked.order_on,
            pieces=self.pieces,
            project=project,
            durations={
                key: ThreePoint(*spread(piece.minutes)) for key, piece in self.pieces.items()
            },
            arrivals=tuple(self.arrivals),
            hands=tuple(one.key for one in hands),
            equals=any(one.key in piece.lookers for piece in self.pieces.values() for one in hands),
            hang=self._hang(),
            stuck={key: tuple(dict.fromkeys(why)) for key, why in self.stuck.items()},
            not_ordered=tuple(dict.fromkeys(self.not_ordered)),
            notes=tuple(dict.fromkeys(self.notes)),
        )

    def _in_order(self) -> Iterator[TaskWork]:
        """Tasks with everything they need before them; sheets are checked to have no rounds."""
        done: set[str] = set()

        def with_needs(name: str) -> Iterator[TaskWork]:
            if name in done:
                return
            done.add(name)
            for need in self.work.tasks[name].task.before:
                yield from with_needs(need)
            yield self.work.tasks[name]

        for name in self.work.tasks:
            yield from with_needs(name)

    def _is_planned(self, one: TaskWork) -> bool:
        if one.task.offered and one.state == "NOT STARTED":
            return False
        return not one.is_finished

    def _hang(self) -> str:
        """The piece that hangs the engine: the last work with the hoist."""
        found = [p for p in self.pieces.values() if p.hoist and p.kind == "work"]
        found.sort(key=lambda p: self.work.tasks[p.task].task.order)
        return found[-1].key if found else ""

    # ------------------------------------------------------------ tasks

    def _task(self, one: TaskWork, closing: str) -> None:
        task = one.task
        again = self._again(one)
        if not self._is_planned(one) and not again:
            self.last[task.id] = ()
            return
        keys: list[str] = []
        if self._is_planned(one) and one.unfinished:
            if task.hold and task.hold_when == "started":
                keys += self._around_a_look(one, closing)
            else:
                groups = self._groups(one)
                for number, group in enumerate(groups):
                    key = task.id if not number else f"{task.id}.{number + 1}"
                    keys.append(self._work(one, group, key, closing))
        if again:
            piece = self._again_piece(one, again, closing)
            self.pieces[piece.key] = piece
            keys.append(piece.key)
        lag = round(task.after_hours * 60)
        cured = tuple(Need(key, lag) for key in keys)
        looked_at = task.hold and task.hold_when == "done" and self._is_planned(one)
        if looked_at and not (one.look is not None and one.look.given and not one.unfinished):
            look = self._look(one, tuple(Need(key) for key in keys))
            self.last[task.id] = (Need(look), *(cured if lag else ()))
        else:
            self.last[task.id] = cured

    def _needs(self, one: TaskWork, *, ready: bool, closing: str) -> tuple[Need, ...]:
        task = one.task
        before = one.late_waits if ready else task.before
        needs = [need for name in before for need in self.last.get(name, ())]
        if task.id == closing:
            # The last task of the sheet closes the job: it waits for everything else.
            followed = {need.on for piece in self.pieces.values() for need in piece.needs}
            needs += [
                Need(key, round(self.work.tasks[piece.task].task.after_hours * 60))
                for key, piece in self.pieces.items()
                if key not in followed and piece.task != task.id
            ]
        return tuple(dict.fromkeys(needs))

    def _cured(self, task: Task) -> int:
        """The moment by which what was done before it, and cures, is ready."""
        latest = 0
        for name in task.before:
            need = self.work.tasks[name]
            if need.is_finished and need.task.after_hours and need.last is not None:
                over = local(need.last.at) + timedelta(hours=need.task.after_hours)
                latest = max(latest, moment(self.origin, over))
        return latest

    def _work(
        self,
        one: TaskWork,
        group: _Group,
        key: str,
        closing: str,
        *,
        share: float = 1.0,
        after: tuple[Need, ...] = (),
    ) -> str:
        task = one.task
        least, likely, most = minutes_left(one, len(group.places))
        needs = self._needs(one, ready=group.ready, closing=closing)
        release = group.release
        if release is not None:
            release = max(release, self._cured(task))
        for wait in group.waits:
            if wait.day is None:
                found = self.stuck.setdefault(key, [])
                if wait.stuck:
                    found.append(wait.stuck)
                else:
                    self.not_ordered.append(wait.name)
        self.pieces[key] = Piece(
            key=key,
            task=task.id,
            kind="work",
            title=task.title,
            places=tuple(place.label for place in group.places if place.label),
            minutes=(least * share, likely * share, most * share),
            hands=task.hands,
            needs=(*needs, *after),
            release=release,
            waits=group.waits,
            lookers=(),
            in_one_go=task.in_one_go,
            stand=task.stand,
            hoist=task.hoist,
            late=bool(task.late),
            part_done=any(0 < p.done < p.of and p.what == task.fastener for p in group.places),
        )
        return key

    def _around_a_look(self, one: TaskWork, closing: str) -> list[str]:
        """Work that a second person looks at once it is begun and before it is finished."""
        groups = self._groups(one)
        releases = [group.release for group in groups]
        known = [release for release in releases if release is not None]
        whole = _Group(
            all(group.ready for group in groups),
            max(known) if len(known) == len(releases) else None,
            tuple(place for group in groups for place in group.places),
            tuple(wait for group in groups for wait in group.waits),
        )
        key = one.task.id
        begun = one.state == "STARTED"
        after: tuple[Need, ...] = ()
        keys: list[str] = []
        if not begun:
            keys.append(self._work(one, whole, f"{key}.begin", closing, share=BEFORE_THE_LOOK))
            after = (Need(keys[0]),)
        given = one.look is not None and one.look.given is not None
        if not given:
            after = (Need(self._look(one, after)),)
        keys.append(self._work(one, whole, key, closing, share=1 - BEFORE_THE_LOOK, after=after))
        return keys

    def _look(self, one: TaskWork, needs: tuple[Need, ...]) -> str:
        task = one.task
        doers = one.look.doers if one.look is not None else ()
        who = tuple(
            person.key
            for person in lookers(self.facts, self.origin.date())
            if person.key not in doers
        )
        key = f"{task.id}.look"
        if not who:
            self._is_stuck(
                key,
                task,
                f"Nobody is left to give the second look of {_TASKS}: everyone who may worked on "
                "it. Add someone to the list of people.",
                f"Nobody is left to give the second looks of {_TASKS}: everyone who may worked on "
                "them. Add someone to the list of people.",
            )
        elif one.unfinished and not self._leaves_another(task, who):
            add = "Add someone to the list of people, or change the hold"
            self._is_stuck(
                key,
                task,
                f"The second look of {_TASKS} is another person's than whoever does the work, and "
                f"nobody is left for it. {add} of the task.",
                f"The second looks of {_TASKS} are another person's than whoever does the work, "
                f"and nobody is left for them. {add} of the tasks.",
            )
        self.pieces[key] = Piece(
            key=key,
            task=task.id,
            kind="look",
            title=f"Second look: {task.hold}",
            places=(),
            minutes=LOOK_MINUTES,
            hands=0,
            needs=needs,
            release=0,
            waits=(),
            lookers=who,
            in_one_go=True,
            stand=False,
            hoist=False,
            late=False,
        )
        return key

    def _leaves_another(self, task: Task, who: Iterable[str]) -> bool:
        """Whether one of these may look while others do the work."""
        hands = {person.key for person in self._people()[0]}
        return any(len(hands - {key}) >= task.hands for key in who)

    # ------------------------------------------------------------ checks again

    def _again(self, one: TaskWork) -> list[tuple[ItemVerdict, str]]:
        """Items with a check of this task to be taken again, though its place was done."""
        found = []
        finished = {place.name for place in one.places if place.is_finished}
        for verdict in self.judged.items:
            if verdict.verdict not in ("REWORK", "NOT YET"):
                continue
            place = _place_of(verdict, one.task)
            if place not in finished and not (place == "" and finished):
                continue
            for kind, check in one.task.answers:
                call = verdict.call(check) if kind == verdict.kind else None
                sheet = self.facts.sheets.get(kind)
                if call is None or sheet is None:
                    continue
                if asks_again(call, sheet.check(check)):
                    found.append((verdict, call.label.lower()))
        return found

    def _again_piece(
        self, one: TaskWork, again: Sequence[tuple[ItemVerdict, str]], closing: str
    ) -> Piece:
        items = list(dict.fromkeys(_item_words(verdict) for verdict, _ in again))
        task = one.task
        return Piece(
            key=f"{task.id}.again",
            task=task.id,
            kind="again",
            title=f"{task.title}, again",
            places=tuple(items),
            minutes=minutes_left(one, min(len(items), len(one.places))),
            hands=task.hands,
            needs=self._needs(one, ready=False, closing=closing),
            release=0,
            waits=(),
            lookers=(),
            in_one_go=task.in_one_go,
            stand=task.stand,
            hoist=False,
            late=False,
        )

    # ------------------------------------------------------------ parts

    def _new_items(self) -> dict[str, list[tuple[str, str]]]:
        """For each task that fits new parts: the place and the part of each reject."""
        found: dict[str, list[tuple[str, str]]] = {}
        for verdict in self.judged.items:
            if verdict.verdict != "REJECT" or verdict.state.replaced_by:
                continue
            part = part_for(verdict.item, self.facts)
            if part is None:
                self.notes.append(
                    f"{_item_words(verdict)} is a REJECT and no part on the parts list replaces it; it "
                    "is planned as if a new one were in hand."
                )
                continue
            task = fitting_task(verdict.kind, self.facts.tasks)
            if task is not None:
                place = verdict.goes_to if verdict.kind == "plug" else verdict.name
                found.setdefault(task, []).append((place, part.id))
        return found

    def _groups(self, one: TaskWork) -> list[_Group]:
        """The unfinished places of a task, those together that are released together."""
        wanted: dict[str, list[tuple[str, int]]] = {place.name: [] for place in one.unfinished}
        first = next(iter(wanted))
        for use in one.task.uses:
            has = {name for part, name, n in one.used if part == use.part and n >= use.number}
            if use.each:
                for name in wanted:
                    if name not in has:
                        wanted[name].append((use.part, use.number))
            else:
                used = sum(n for part, _, n in one.used if part == use.part)
                if used < use.number:
                    wanted[first].append((use.part, use.number - used))
        for where, part in self.new_for.get(one.task.id, ()):
            wanted[where if where in wanted else first].append((part, 1))
        away = self._away(one)
        order = list(one.places)
        grouped: dict[tuple[bool, int | None, bool], tuple[list[WorkPlace], list[Arrival]]] = {}
        # Places that need most go last, so that what is in hand goes as far as it can.
        for place in sorted(one.unfinished, key=lambda p: len(wanted[p.name])):
            waits = [a for part, n in wanted[place.name] for a in self._take(part, n)]
            release = self._release(waits)
            if release is not None and place.name in away:
                release = max(release, away[place.name])
            key = (place.name in one.ready, release, 0 < place.done < place.of)
            places, arrivals = grouped.setdefault(key, ([], []))
            places.append(place)
            arrivals += waits
        return [
            _Group(ready, release, tuple(sorted(places, key=order.index)), merged(waits))
            for (ready, release, begun), (places, waits) in sorted(
                grouped.items(),
                key=lambda pair: (pair[0][1] is None, pair[0][1] or 0, not pair[0][2]),
            )
        ]

    def _away(self, one: TaskWork) -> dict[str, int]:
        """Places whose item is out of the shop, with the moment it is back."""
        found = {}
        for item, back in self.asked.away.items():
            for place in one.unfinished:
                if (one.task.for_each, place.name) == (item_kind(item), item_name(item)) or (
                    one.task.hoist and not one.task.for_each
                ):
                    found[place.name] = self._noon(back)
        return found

    def _take(self, part: str, number: int) -> list[Arrival]:
        """Take so many of a part from what comes soonest; the arrivals that have to be waited for."""
        if part not in self.supply:
            self.notes.append(
                f"Nobody counts {part}: it is not on the parts list, and is planned as if in hand."
            )
            return []
        waits = []
        supply = self.supply[part]
        while number:
            there = supply[0]
            taken = min(number, there.number)
            number -= taken
            left = there.number - taken
            if there.name:
                waits.append(replace(there, number=taken))
            if left:
                supply[0] = replace(there, number=left)
            else:
                supply.pop(0)
        self.arrivals += waits
        return waits

    def _release(self, waits: Iterable[Arrival]) -> int | None:
        latest = 0
        for one in waits:
            if one.day is None:
                return None
            latest = max(latest, self._noon(one.day))
        return latest

    def _noon(self, day: date) -> int:
        return moment(self.origin, datetime.combine(day, IN_HAND_AT))

    # ------------------------------------------------------------ people and hours

    def _people(self) -> tuple[list[Person], list[Person]]:
        """Whose hands the work takes, and who may give a second look."""
        return workers(self.facts), lookers(self.facts, self.origin.date())

    def _project(self, hands: Sequence[Person], pool: Sequence[Person]) -> Project:
        days = self._days()
        shop = {day: hours(self.origin, self.facts.shop, day) for day in days}
        open_days = {day: window for day, window in shop.items() if window is not None}
        calendars = {"shop": tuple(open_days.values())}
        resources = {
            "stand": Resource(1),
            "hoist": Resource(1),
            "hands": crew_of(hands, self.facts.shop, open_days),
        }
        sets = {frozenset(p.lookers) for p in self.pieces.values() if p.kind == "look"} - {
            frozenset()
        }
        by_key = {one.key: one for one in pool}
        # Of looks going on at one time, each needs someone of its own. There is someone for each
        # when, for every union of the sets of who may, no more than that many go on inside it.
        # P. Hall, Journal of the London Mathematical Society 10, 1935, 26-30 (from memory).
        unions = {
            frozenset().union(*chosen)
            for size in range(1, min(3, len(sets)) + 1)
            for chosen in combinations(sorted(sets, key=sorted), size)
        }
        names = {union: f"look:{'+'.join(sorted(union))}" for union in unions}
        for union, name in names.items():
            crew = [by_key[key] for key in sorted(union)]
            resources[name] = crew_of(crew, self.facts.shop, open_days)
        share_hands = {one.key for one in hands} & set(by_key)
        activities = {}
        for key, piece in self.pieces.items():
            used: dict[str, int] = {}
            if piece.hands:
                used["hands"] = piece.hands
            if piece.stand:
                used["stand"] = 1
            if piece.hoist:
                used["hoist"] = 1
            if piece.kind == "look":
                mine = frozenset(piece.lookers)
                used |= {name: 1 for union, name in names.items() if mine and mine <= union}
                if share_hands:
                    used["hands"] = 1
            self._check_crew(piece, resources["hands"].capacity, used)
            activities[key] = Activity(
                duration=max(1, round(piece.minutes[1])),
                needs=piece.needs,
                resources={
                    name: min(amount, resources[name].capacity) for name, amount in used.items()
                },
                release=piece.release,
                calendar="shop",
                splittable=not piece.in_one_go,
                lean=self._lean(piece),
            )
        return Project(activities, resources, calendars)

    def _lean(self, piece: Piece) -> int:
        """What was left part-done goes early, what is left late on purpose goes late."""
        if piece.part_done:
            return 1
        return -1 if piece.late and not self.facts.tasks[piece.task].late_after else 0

    def _is_stuck(self, key: str, task: Task, one: str, many: str) -> None:
        """Keep a piece out of the plan; what keeps several out is said of them all at once."""
        self.alike.setdefault((one, many), []).append((key, lower_first(task.title)))

    def _say_alike(self) -> None:
        for (one, many), found in self.alike.items():
            tasks = list(dict.fromkeys(task for _, task in found))
            if len(tasks) > _NAMED:
                tasks[_NAMED - 1 :] = [f"{len(tasks) - _NAMED + 1} tasks more"]
            words = upper_first((one if len(tasks) == 1 else many).replace(_TASKS, listed(tasks)))
            for key, _ in found:
                self.stuck.setdefault(key, []).append(words)

    def _check_crew(self, piece: Piece, hands: int, used: Mapping[str, int]) -> None:
        task = self.facts.tasks[piece.task]
        wanted = used.get("hands", 0)
        if wanted > hands:
            people = "1 person" if wanted == 1 else f"{wanted} people at once"
            there = {0: "nobody is", 1: "only one person is"}.get(hands, f"only {hands} are")
            self._is_stuck(
                piece.key,
                task,
                f"{_TASKS} takes {people}, and {there} in. Add someone to the list of people, or change "
                "the task's hands.",
                f"{_TASKS} take {people}, and {there} in. Add someone to the list of people, or change "
                "the tasks' hands.",
            )
        days = self._days()
        if piece.lookers and not any(
            is_in(self.facts.people[key], self.facts.shop, day)
            for key in piece.lookers
            for day in days
        ):
            names = listed([self.facts.person(key) for key in piece.lookers], "or")
            away = (
                f"of {_TASKS} and {'is' if len(piece.lookers) == 1 else 'are'} not in before "
                f"{on_day(days[-1])}. Name another for second looks, or mend the days away."
            )
            self._is_stuck(
                piece.key,
                task,
                f"{names} may give the second look {away}",
                f"{names} may give the second looks {away}",
            )

    def _days(self) -> list[date]:
        """The days the calendar is drawn for: past all that is known, and as many as the work takes."""
        known = [one.day for one in self.arrivals if one.day is not None]
        known += self.asked.away.values()
        last = max([self.origin.date(), *known])
        shop = self.facts.shop
        a_day = (shop.shuts.hour - shop.opens.hour) * 60 + shop.shuts.minute - shop.opens.minute
        minutes = sum(piece.minutes[2] for piece in self.pieces.values())
        extra = MARGIN_DAYS + math.ceil(minutes / max(1, a_day) * 7 / max(1, len(shop.days)))
        return [
            self.origin.date() + timedelta(days=ahead)
            for ahead in range((last - self.origin.date()).days + extra)
        ]


def _place_of(verdict: ItemVerdict, task: Task) -> str:
    """The name of the place of a task at which an item is."""
    if verdict.kind == "plug" and task.for_each in ("plug", "hole", "lead"):
        return verdict.state.came_out_of
    return verdict.name if task.for_each else ""


def _item_words(verdict: ItemVerdict) -> str:
    if verdict.kind == "plug":
        return f"{verdict.name} ({verdict.place})" if verdict.place else verdict.name
    return f"{verdict.kind} {verdict.name}"
