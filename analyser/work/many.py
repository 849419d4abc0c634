"""Many logs: each gets its name, what an earlier run did is not done again, results come in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from analyser.work.executors import Seam
from analyser.work.job import Job
from analyser.work.names import Names
from analyser.work.task import Finished, Task


def debrief_many(
    logs: Sequence[Path],
    job: Job,
    seam: Seam,
    *,
    again: bool = False,
    rows: bool = False,
    trace: bool = False,
    told_elsewhere: Callable[[str, int], bool] | None = None,
) -> Iterator[Finished]:
    """Debrief many logs; results come in the order given.

    Parameters
    ----------
    logs : sequence of Path
    job : Job
    seam : Seam
        Who does the work.
    again : bool
        Debrief anew what an earlier run has done.
    rows, trace : bool
        As in :class:`~analyser.work.task.Task`.
    told_elsewhere : callable, optional
        Takes a log's SHA-256 and how many flights it holds, and tells whether it need not be debriefed again; where
        left out it never needs to be.
    """

    def tasks() -> Iterator[Task]:
        # Names are given out here, one after another and before the work is spread, so that no two workers can
        # take the same one.
        names, fingerprint = Names(job.out), job.fingerprint()
        for log in logs:
            claim = names.claim(log)
            there = claim.earlier
            stands = there is not None and not again and there.stands(job.out, fingerprint)
            if there is not None and stands and told_elsewhere is not None:
                stands = told_elsewhere(there.sha256, len(there.stems))
            earlier = there.stems if there is not None and stands else ()
            yield Task(log, claim.stem, job, earlier, claim.twin, rows, trace)

    return seam.run(tasks())
