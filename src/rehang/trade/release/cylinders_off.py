"""What keeps an engine back whose cylinder came off: not on again, held by nothing, or not run since."""

from __future__ import annotations

from collections.abc import Iterator

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.cylinders_off import CYLINDER, on_again
from rehang.trade.known.state import JobState
from rehang.trade.run.proofs import is_later
from rehang.trade.run.runs import Runs
from rehang.trade.terms.wording import on_day
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["off_blockers"]


def off_blockers(facts: JobFacts, state: JobState, runs: Runs) -> Iterator[Blocker]:
    """For each cylinder that came off, what neither its checks, its torque nor its tasks say."""
    for name in facts.off:
        about, on = f"off:{name}", on_again(state, name)
        removed = state.items[f"{CYLINDER}:{name}"].removed
        assert removed is not None
        if on is None:
            yield Blocker(
                about,
                f"Cylinder {name} came off on {on_day(removed.at)} and is not written as on again.",
                "Put it on, and write which one by its serial.",
            )
        elif not any(run.is_whole and is_later(run.began, on) for run in runs.runs):
            yield Blocker(
                about,
                f"Cylinder {name} has been on since {on_day(on.at)}, and no ground run with its figures was "
                "ended since.",
                "Run it in by the engine's document, and read what its check sheet asks.",
            )
    if facts.off and not any(one.when_off for one in facts.torque_groups.values()):
        yield Blocker(
            f"off:{facts.off[0]}",
            "There is no torque card for what holds a cylinder down.",
            "Enter its nuts under Fasteners to torque, for cylinders that came off.",
        )
