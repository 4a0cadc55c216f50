"""Run the steps of a week as Prefect tasks; without Prefect once its server has gone."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any, TypeVar

from pipeline.errors import Stopped, StoreBusy
from pipeline.servers import Server, is_gone
from pipeline.summaries import Loaded

Result = TypeVar("Result")
_TRIES_AFTER: list[float] = [2, 10, 30]


@dataclass
class Steps:
    """Run work as tasks of the current flow run, and count them.

    `alone` tells that the server has gone: what is left is done all the same, and not recorded.
    `patience` is Prefect's with its server, and is taken back then. `failure` is what ended the work
    early.
    """

    server: Server
    patience: ExitStack
    stopped: Callable[[], bool] | None = None
    taken: int = 0
    alone: bool = False
    failure: Exception | None = None

    def __call__(self, name: str, work: Callable[[], Result]) -> Result:
        """Do one step; raise what its work raises, and Stopped when the run is to end before it."""
        if self.stopped and self.stopped():
            raise Stopped("stopped between two reports.")
        self.taken += 1
        return _persist(work) if self.alone else self._observe(name, work)

    def _observe(self, name: str, work: Callable[[], Result]) -> Result:
        results: list[Result] = []
        raised: list[Exception] = []

        def observe() -> Any:
            try:
                results.append(work())
            except Exception as error:
                raised.append(error)
                raise
            return _as_state(results[0])

        try:
            state: Any = _as_task(observe, name)(return_state=True)
            if not results:
                state.result()
        except Exception:
            if not self.forsaken():
                raise
        if results:
            return results[0]
        if raised and not isinstance(raised[-1], StoreBusy):
            raise raised[-1]
        return _persist(work)

    def forsaken(self) -> bool:
        """Tell whether the server has gone; if so, go on alone from here."""
        if not self.alone and is_gone(self.server):
            from prefect.settings import PREFECT_CLIENT_MAX_RETRIES, temporary_settings

            # Prefect would ask five times more, for a minute, and at the end of the flow again.
            self.patience.enter_context(temporary_settings({PREFECT_CLIENT_MAX_RETRIES: 0}))
            self.alone = True
        return self.alone


def _persist(work: Callable[[], Result]) -> Result:
    """Do work, trying again while the store is busy."""
    for pause in _TRIES_AFTER:
        try:
            return work()
        except StoreBusy:
            time.sleep(pause)
    return work()


def _as_task(observe: Callable[[], Any], name: str) -> Any:
    from prefect import Task
    from prefect.cache_policies import NO_CACHE

    return Task(
        observe,
        name="one step of the week",
        task_run_name=name,
        cache_policy=NO_CACHE,
        retries=len(_TRIES_AFTER),
        retry_delay_seconds=_TRIES_AFTER,
        retry_condition_fn=_is_busy,
    )


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
