"""The weekly run: the same order as one Prefect flow, each step a task.

Prefect observes each step and, while the store is busy, tries it again. It is imported late: that
takes seconds, and it reads its settings at that moment.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pipeline.errors import Stopped, StoreBusy
from pipeline.flows.loading import Tell, keep_alone, load_each, sum_up
from pipeline.flows.order import Workplace, refresh
from pipeline.flows.publishing import publish
from pipeline.flows.sending import Sent, send_letters
from pipeline.neighbours import find_server
from pipeline.servers import await_server, settle
from pipeline.settings import Recipient
from pipeline.summaries import Loaded, LoadSummary, quality_rows

Result = TypeVar("Result")
_TRIES_AFTER: list[float] = [2, 10, 30]


@dataclass(frozen=True)
class Week:
    """What a weekly run did: the load, the files of the digest, and its letters."""

    loaded: LoadSummary
    written: tuple[Path, ...]
    sent: tuple[Sent, ...] = ()


@dataclass(frozen=True)
class Watched:
    """How a run is kept short: the only files to read (null: all), and whether it is to stop.

    `stopped` is asked before each report and step.
    """

    only: Container[Path] | None = None
    stopped: Callable[[], bool] | None = None


def weekly(
    paths: Sequence[Path],
    workplace: Workplace,
    out: Path | None,
    tell: Tell,
    recipients: Sequence[Recipient] = (),
    watched: Watched = Watched(),
) -> Week:
    """Load, refresh, publish and send as one Prefect flow with a task per report.

    Without `out` no digest is written. Raises StoreBusy and CinderlotError like the steps
    themselves, and Stopped between two of them.
    """
    server = find_server(workplace.store)
    from prefect import Flow
    from prefect.settings import PREFECT_FLOWS_HEARTBEAT_FREQUENCY, temporary_settings

    step, weeks = _Steps(watched.stopped), list[Week]()

    def run_week(paths: list[str], out: str | None) -> None:
        files = load_each(
            [Path(path) for path in paths],
            workplace,
            tell,
            lambda file, ready: step(file, lambda: keep_alone(workplace.store, ready())),
            only=watched.only,
        )
        step("derive and flag", lambda: refresh(workplace))
        loaded = step("sum up", lambda: sum_up(workplace, files))
        _leave_artifact(loaded)
        if out is None:
            weeks.append(Week(loaded, ()))
            return
        loaded_from = [Path(path) for path in paths]
        issue = step(
            "digest",
            lambda: publish(workplace, Path(out), recipients=recipients, paths=loaded_from),
        )
        sent = step("send", lambda: send_letters(issue.letters, workplace)) if recipients else ()
        weeks.append(Week(loaded, issue.written, sent))

    await_server(server)
    # A heartbeat would hold up the end of the flow by a second; a run of minutes needs none.
    with temporary_settings({PREFECT_FLOWS_HEARTBEAT_FREQUENCY: None}):
        name = "cinderlot weekly" if out else "cinderlot load"
        flow = Flow(_stoppable(run_week, watched), name=name, validate_parameters=False)
        where = str(out) if out else None
        state: Any = flow([str(path) for path in paths], where, return_state=True)
    settle(server, str(state.state_details.flow_run_id), step.taken)
    if state.is_cancelled():
        raise Stopped(state.message)
    state.result()
    return weeks[0]


def _stoppable(
    run_week: Callable[[list[str], str | None], None], watched: Watched
) -> Callable[[list[str], str | None], Any]:
    """Show a run that was asked to stop as cancelled; it stops between two steps."""
    before = signal.getsignal(signal.SIGTERM)

    def run_until_stopped(paths: list[str], out: str | None) -> Any:
        from prefect.states import Cancelled

        if watched.stopped:
            # Prefect would break off within a step.
            signal.signal(signal.SIGTERM, before)
        try:
            return run_week(paths, out)
        except Stopped as stopped:
            return Cancelled(message=str(stopped))

    return run_until_stopped


@dataclass
class _Steps:
    """Run work as tasks of the current flow run, and count them."""

    stopped: Callable[[], bool] | None = None
    taken: int = 0

    def __call__(self, name: str, work: Callable[[], Result]) -> Result:
        from prefect import Task
        from prefect.cache_policies import NO_CACHE

        if self.stopped and self.stopped():
            raise Stopped("stopped between two reports.")
        results: list[Result] = []

        def observe() -> Any:
            results.append(work())
            return _as_state(results[0])

        self.taken += 1
        task = Task(
            observe,
            name="one step of the week",
            task_run_name=name,
            cache_policy=NO_CACHE,
            retries=len(_TRIES_AFTER),
            retry_delay_seconds=_TRIES_AFTER,
            retry_condition_fn=_is_busy,
        )
        state: Any = task(return_state=True)
        if not results:
            state.result()
        return results[0]


def _as_state(result: object) -> Any:
    """Show a refused file as a failed task, although the flow goes on."""
    from prefect.states import Completed, Failed

    if isinstance(result, Loaded) and result.outcome == "refused":
        return Failed(message=result.message)
    return Completed()


def _is_busy(task: Any, task_run: Any, state: Any) -> bool:
    try:
        state.result()
    except StoreBusy:
        return True
    except Exception:
        return False
    return False


def _leave_artifact(loaded: LoadSummary) -> None:
    """Show the load beside the flow run; the store keeps the truth."""
    from prefect.artifacts import create_table_artifact

    rows = quality_rows(loaded)
    held = sum(file.n_held for file in loaded.files)
    told = f"Data quality: {len(rows)} files, {held} values held, {loaded.count('refused')} refused"
    create_table_artifact(rows, key="cinderlot-weekly-load", description=told)
