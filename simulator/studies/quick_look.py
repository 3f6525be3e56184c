"""A quick look at a session: the probability of its task from a few pictures, with equal noise.

Smoother than `Session.probability`, which counts: it serves searches that compare neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from simulator.judge.colour_naming import Naming
from simulator.judge.readers import reader_of
from simulator.judge.sight import Sight, View
from simulator.judge.target import JudgedText, plan_region
from simulator.studies.session import Session

OBSERVER_PICTURES = 40
"""Pictures of a text that such a look has read: where 95 % are read, fewer than 90 % of them are in
one look of 20."""


@dataclass
class QuickLook:
    """Looks at sessions; counts them in `looks`.

    Text is looked at in the layers that the session keeps, so that sessions that were relit or
    exposed anew need no new tracing.
    """

    seed: int
    looks: int = field(default=0)

    def __call__(self, session: Session) -> float:
        """Probability of the session's task.

        Raises
        ------
        InputError
            For a target that cannot be seen, or a scene without light.
        """
        self.looks += 1
        task = session.scene.model.task
        sight = Sight(session.entry, task.name, reader_of(task.reader), self.seed)
        in_scene, state, target = session.in_scene, session.coded, session.part
        if not isinstance(target, JudgedText):
            view = sight.view(in_scene, state, target, ())
            return sight.quick(in_scene, state, target, replace(view, named=session.traces_of))
        plan = plan_region(in_scene, state, target)
        view = View(plan, session.traces, None, session.others)
        return sight.quick(in_scene, state, target, view)


class ObserverLook(NamedTuple):
    """Probability of a task by the reader or observer of verdicts, with its sampling interval."""

    value: float
    low: float
    high: float
    trials: int
    """Pictures that were judged."""


def observer_look(session: Session, pictures: int = OBSERVER_PICTURES) -> ObserverLook:
    """A session's task by the reader or observer that verdicts go by, without the whole picture.

    Once light is traced it costs hardly more than a quick look: its pictures come from the layers
    that the session keeps.

    Parameters
    ----------
    pictures
        Pictures of a text; other tasks take their own number.

    Raises
    ------
    InputError
        As `QuickLook` does.
    """
    task, part = session.scene.model.task, session.part
    if not isinstance(part, JudgedText):
        sight = Sight(session.entry, task.name, reader_of(task.reader), session.seed)
        view = replace(
            sight.view(session.in_scene, session.coded, part, ()), named=session.traces_of
        )
        seen = sight.observed(session.in_scene, session.coded, part, view)
        if seen is not None:
            count = seen.trials if isinstance(seen, Naming) else seen.pictures
            return ObserverLook(seen.value, seen.low, seen.high, count)
    judgement = session.probability(pictures, proof=True)
    return ObserverLook(judgement.value, judgement.low, judgement.high, judgement.trials)
