"""The weekly run: the same order as one Prefect flow, each step a task.

Prefect observes each step and, while the store is busy, tries it again. It is imported late: that
takes seconds, and it reads its settings at that moment.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Container, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.errors import Stopped
from pipeline.flows.loading import Tell, derive_anew, keep_alone, load_each, sum_up
from pipeline.flows.order import Workplace
from pipeline.flows.publishing import publish
from pipeline.flows.sending import Sent, send_letters
from pipeline.flows.steps import Steps
from pipeline.neighbours import find_server
from pipeline.servers import await_server, settle
from pipeline.settings import Recipient
from pipeline.summaries import LoadSummary, quality_rows


@dataclass(frozen=True)
class Week:
    """What a weekly run did: the load, the files of the digest, and its letters.

    `unrecorded` tells that the Prefect server ended before it, so that its page lacks the rest.
    """

    loaded: LoadSummary
    written: tuple[Path, ...]
    sent: tuple[Sent, ...] = ()
    unrecorded: bool = False


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

    Without `out` no digest is written. When the server ends meanwhile, such as that of a `serve`
    that is stopped, the run goes on to its end without it. Raises StoreBusy and CinderlotError like
    the steps themselves, and Stopped between two of them.
    """
    server = find_server(workplace.store)
    step, weeks = Steps(server, ExitStack(), watched.stopped), list[Week]()

    def run_week(paths: list[str], out: str | None) -> None:
        files = load_each(
            [Path(path) for path in paths],
            workplace,
            tell,
            lambda file, ready: step(file, lambda: keep_alone(workplace.store, ready())),
            only=watched.only,
        )
        step("derive and flag", lambda: derive_anew(workplace))
        loaded = step("sum up", lambda: sum_up(workplace, files))
        _leave_artifact(loaded, step)
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
    given = [str(path) for path in paths], str(out) if out else None
    state = _observe_week(run_week, given, watched, step)
    if state is None:
        return replace(weeks[0], unrecorded=True)
    settle(server, str(state.state_details.flow_run_id), step.taken)
    if state.is_cancelled():
        raise Stopped(state.message)
    state.result()
    return weeks[0]


def _observe_week(
    run_week: Callable[[list[str], str | None], None],
    given: tuple[list[str], str | None],
    watched: Watched,
    step: Steps,
) -> Any:
    """Run the week as a flow and give its last state; null when it was done to its end alone."""
    from prefect import Flow
    from prefect.settings import PREFECT_FLOWS_HEARTBEAT_FREQUENCY, temporary_settings

    name = "cinderlot weekly" if given[1] else "cinderlot load"
    # A heartbeat would hold up the end of the flow by a second; a run of minutes needs none.
    with temporary_settings({PREFECT_FLOWS_HEARTBEAT_FREQUENCY: None}), step.patience:
        flow = Flow(_stoppable(run_week, watched, step), name=name, validate_parameters=False)
        try:
            state: Any = flow(*given, return_state=True)
        except Exception:
            if not step.forsaken():
                raise
    if not step.alone:
        return state
    if step.failure:
        raise step.failure
    if not step.taken:
        run_week(*given)
    return None


def _stoppable(
    run_week: Callable[[list[str], str | None], None], watched: Watched, step: Steps
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
            step.failure = stopped
            return Cancelled(message=str(stopped))
        except Exception as error:
            step.failure = error
            raise
        finally:
            step.forsaken()

    return run_until_stopped


def _leave_artifact(loaded: LoadSummary, step: Steps) -> None:
    """Show the load beside the flow run; the store keeps the truth."""
    from prefect.artifacts import create_table_artifact

    rows = quality_rows(loaded)
    held = sum(file.n_held for file in loaded.files)
    refused = ", ".join(file.file for file in loaded.files if file.outcome == "refused")
    told = f"Data quality: {len(rows)} files, {held} values held; refused: {refused or 'none'}"
    if step.forsaken():
        return
    try:
        create_table_artifact(rows, key="cinderlot-weekly-load", description=told)
    except Exception:
        if not step.forsaken():
            raise
