"""Sensitivity and leaning from hits and false alarms: d', criterion, beta."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import special

from kit.quantities.errors import EstimationError


@dataclass(frozen=True)
class Detection:
    """One learner's answers to "is it over?".

    Attributes
    ----------
    hit_rate, false_alarm_rate : float
    d_prime : float
        Distance of what is over from what is not, in standard deviations of the eye.
    criterion : float
        Below zero for an eye that leans towards saying "over".
    beta : float
        The same as a ratio of likelihoods.
    """

    hit_rate: float
    false_alarm_rate: float
    d_prime: float
    criterion: float
    beta: float


def detection(hit_rate: float, false_alarm_rate: float) -> Detection:
    """Work out sensitivity and leaning from two rates between 0 and 1.

    Raises
    ------
    EstimationError
        If a rate is 0, 1 or outside: use `detection_of_counts`.

    Source: Stanislaw and Todorov 1999, Behavior Research Methods 31:137-149 (from memory).
    """
    if not (0.0 < hit_rate < 1.0 and 0.0 < false_alarm_rate < 1.0):
        raise EstimationError("no sensitivity", "rates between 0 and 1, both left out",
                              f"{hit_rate} and {false_alarm_rate}")  # fmt: skip
    hit, false = float(special.ndtri(hit_rate)), float(special.ndtri(false_alarm_rate))
    return Detection(hit_rate, false_alarm_rate, hit - false, -(hit + false) / 2,
                     math.exp((false**2 - hit**2) / 2))  # fmt: skip


def detection_of_counts(hits: int, over: int, false_alarms: int, under: int) -> Detection:
    """Work out the same from counts; half an answer is added to each, one to each total.

    Parameters
    ----------
    hits, over : int
        How often "over" was said of the dogs that were over, and how many those were.
    false_alarms, under : int
        How often it was said of the others, and how many those were.

    Source: log-linear correction, Hautus 1995 (from memory).
    """
    if not (0 <= hits <= over and 0 <= false_alarms <= under and over > 0 and under > 0):
        raise EstimationError("no sensitivity", "counts no larger than their totals",
                              f"{hits} of {over}, {false_alarms} of {under}")  # fmt: skip
    return detection((hits + 0.5) / (over + 1), (false_alarms + 0.5) / (under + 1))


def two_choice_d_prime(part_correct: float) -> float:
    """Return d' of a choice between two that was right in this part of the trials.

    Source: d' = sqrt(2) z(part correct), Macmillan and Creelman (from memory).
    """
    if not 0.0 < part_correct < 1.0:
        raise EstimationError("no sensitivity", "a part between 0 and 1", f"{part_correct}")
    return math.sqrt(2.0) * float(special.ndtri(part_correct))
