"""Five minutes of seeing practice: which drawing comes next, what was answered, what it shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from kit.quantities.errors import EstimationError
from kit.teaching.contrasts import Contrast, contrast
from kit.teaching.detection import Detection, detection_of_counts
from kit.teaching.psychometric import Answers, Fitted, bootstrap

ONE, TWO = "one", "two"
STAIRCASE, CONSTANT = "staircase", "constant"
SECONDS = 300.0
# In steps of the contrast:
GRID = 0.025  # levels are whole numbers of this, so that drawings are used again
REACH = 1.0  # the largest difference shown
FIRST_MOVE, LEAST_MOVE = 0.2, 0.05
TARGET = 0.75  # part of "over" answers the upper staircase settles at; the lower at the rest
CONSTANT_LEVELS = (0.08, 0.2, 0.35, 0.55, 0.9)
DIRECTIONS_BEFORE_HALVING = 2


@dataclass(frozen=True)
class Plan:
    """What a session is.

    Attributes
    ----------
    contrast : str
        Key of the contrast.
    standard : str
        Whose target the drawings start from.
    choice : str
        ``one`` drawing against what is asked, or ``two`` to choose from.
    method : str
        ``staircase`` or ``constant`` stimuli.
    seed : int
    seconds : float
    tell : bool
        Whether each answer is at once said to be right or not.
    """

    contrast: str
    standard: str
    choice: str = ONE
    method: str = STAIRCASE
    seed: int = 1
    seconds: float = SECONDS
    tell: bool = False

    def __post_init__(self) -> None:
        contrast(self.contrast)
        if self.choice not in (ONE, TWO) or self.method not in (STAIRCASE, CONSTANT):
            raise EstimationError("no such practice", "one or two, staircase or constant",
                                  f"{self.choice}, {self.method}")  # fmt: skip
        if not self.seconds > 0:
            raise EstimationError("no such practice", "a time above zero", f"{self.seconds}")


@dataclass(frozen=True)
class Trial:
    """One question.

    Attributes
    ----------
    level : float
        What was asked about: over what is asked, or the first over the second, unit of the trait.
    amounts : tuple of float
        By how much each drawing is changed, from the left.
    """

    level: float
    amounts: tuple[float, ...]


@dataclass(frozen=True)
class Answer:
    """What was said to one trial, and after how many seconds of the session."""

    trial: Trial
    over: bool
    at: float

    @property
    def right(self) -> bool:
        """Whether it was right; of dogs that are alike either answer is."""
        return self.trial.level == 0.0 or self.over == (self.trial.level > 0.0)


@dataclass
class _Track:
    """One weighted up-down staircase: Kaernbach 1991, Perception & Psychophysics 49:227-229.

    (from memory) A step against the expected answer is TARGET / (1 - TARGET) times one with it, so
    that the track rests where TARGET of the answers are the expected ones.
    """

    sign: float  # +1 looks for the level mostly called over, -1 for the one mostly called under
    level: float
    move: float = FIRST_MOVE
    turns: int = 0
    last: float = 0.0

    def take(self, over: bool) -> None:
        expected = over == (self.sign > 0)
        way = -self.sign if expected else self.sign
        if self.last and way != self.last:
            self.turns += 1
            if self.turns % DIRECTIONS_BEFORE_HALVING == 0:
                self.move = max(LEAST_MOVE, self.move / 2)
        self.last = way
        part = 1.0 if expected else TARGET / (1 - TARGET)
        self.level = float(np.clip(self.level + way * self.move * part, -REACH, REACH))


@dataclass
class Session:
    """A session under way. The clock is the caller's: answers say when they were given."""

    plan: Plan
    answers: list[Answer] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.contrast: Contrast = contrast(self.plan.contrast)
        self._generator = np.random.default_rng(self.plan.seed)
        self._tracks = [_Track(1.0, REACH), _Track(-1.0, -REACH)]
        self._constant = self._blocks()
        self._on = self._tracks[0]
        self.trial = self._next()

    def answer(self, over: bool, at: float) -> Answer:
        """Take an answer and choose the next trial.

        Parameters
        ----------
        over : bool
            The dog (of two: the first) has more than is asked (than the other).
        at : float
            Seconds since the session began.
        """
        given = Answer(self.trial, over, at)
        self.answers.append(given)
        if self.plan.method == STAIRCASE:
            self._on.take(over)
        self.trial = self._next()
        return given

    def is_over(self, at: float) -> bool:
        """Tell whether the time is up."""
        return at >= self.plan.seconds

    def _next(self) -> Trial:
        if self.plan.method == CONSTANT:
            part = next(self._constant)
        else:
            self._on = self._tracks[int(self._generator.integers(2))]
            part = round(self._on.level / GRID) * GRID
        level = part * self.contrast.step
        return Trial(level, self._amounts(part))

    def _amounts(self, part: float) -> tuple[float, ...]:
        """Return what is drawn; of two dogs neither is always the one that is asked for."""
        step = self.contrast.step
        if self.plan.choice == ONE:
            return (part * step,)
        middle = round(float(self._generator.uniform(-0.25, 0.25)) / GRID) * GRID
        return ((middle + part / 2) * step, (middle - part / 2) * step)

    def _blocks(self) -> Iterator[float]:
        levels = [sign * part for part in CONSTANT_LEVELS for sign in (-1.0, 1.0)]
        while True:
            for place in self._generator.permutation(len(levels)):
                yield levels[place]


@dataclass(frozen=True)
class Result:
    """What a learner's answers show.

    Attributes
    ----------
    fitted : Fitted
        In the unit of the trait.
    detection : Detection
    right : int
    total : int
    """

    contrast: Contrast
    fitted: Fitted
    detection: Detection
    right: int
    total: int


def result(plan: Plan, answers: Sequence[Answer]) -> Result:
    """Fit a learner's answers.

    Raises
    ------
    EstimationError
        If there are too few, or all of one kind.
    """
    one = contrast(plan.contrast)
    levels = [given.trial.level for given in answers]
    said = [given.over for given in answers]
    fitted = bootstrap(Answers.of(levels, said))
    over = [given for given in answers if given.trial.level > 0]
    under = [given for given in answers if given.trial.level < 0]
    found = detection_of_counts(
        sum(g.over for g in over), len(over), sum(g.over for g in under), len(under)
    )
    return Result(one, fitted, found, sum(g.right for g in answers), len(answers))
