"""Learners whose eye is known, to try the practice on before it is believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.teaching.practice import Plan, Session
from kit.teaching.psychometric import Psychometric


@dataclass(frozen=True)
class Learner:
    """An eye that leans by `bias` and sees with the spread `scale`, in the unit of the trait.

    A dog changed by `bias` looks to it as asked. `lapse` of its answers are mistakes either way.
    """

    bias: float
    scale: float
    lapse: float = 0.02
    seed: int = 1

    def practise(self, plan: Plan, answers: int, every: float = 2.0) -> Session:
        """Answer so many trials, one `every` few seconds."""
        eye = Psychometric("normal", self.bias, self.scale, self.lapse, self.lapse)
        generator = np.random.default_rng(self.seed)
        session = Session(plan)
        for number in range(1, answers + 1):
            chance = float(eye(session.trial.level))
            session.answer(bool(generator.random() < chance), number * every)
        return session

    def grades(self, amounts: tuple[float, ...], step: float) -> tuple[int, ...]:
        """Grade drawings from -2 (clearly under) to 2 (clearly over)."""
        generator = np.random.default_rng(self.seed)
        seen = np.array(amounts) - self.bias + generator.normal(0.0, self.scale, len(amounts))
        cuts = np.array([-0.8, -0.3, 0.3, 0.8]) * step
        return tuple(int(place) - 2 for place in np.searchsorted(cuts, seen))
