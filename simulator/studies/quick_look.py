"""A quick look at a session: the probability of its task from a few pictures, with equal noise.

Smoother than `Session.probability`, which counts: it serves searches that compare neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from simulator.judge.readers import reader_of
from simulator.judge.sight import Sight, View
from simulator.judge.target import JudgedText, plan_region
from simulator.studies.session import Session


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
            return sight.quick(in_scene, state, target, sight.view(in_scene, state, target, ()))
        plan = plan_region(in_scene, state, target)
        view = View(plan, session.traces, None, session.others)
        return sight.quick(in_scene, state, target, view)
