"""What practice has shown, in sentences a learner understands."""

from __future__ import annotations

from kit.quantities.kinds import Kind
from kit.teaching.contrasts import Contrast
from kit.teaching.practice import TWO, Result

LOOSE = 3.0  # an interval whose ends differ by more than this factor is said to be wide


def question(one: Contrast, choice: str) -> str:
    """Return what the learner is asked."""
    if choice == TWO:
        return f"{one.title[:1].upper()}{one.title[1:]}: which dog is more “{one.over}”?"
    return f"{one.title[:1].upper()}{one.title[1:]}: against what the standard asks, this dog is …"


def choices(one: Contrast, choice: str) -> tuple[str, str]:
    """Return the two answers: "under" and "over", or the second dog and the first."""
    return ("B", "A") if choice == TWO else (one.under, one.over)


def in_words(result: Result, choice: str) -> tuple[str, ...]:
    """Say how small a difference is seen, and which way the eye leans."""
    return (_threshold(result), _leaning(result, choice))


def _threshold(result: Result) -> str:
    one, fitted = result.contrast, result.fitted
    part = f" of the {one.part_of}" if one.kind is Kind.RATIO else ""
    low, high = fitted.reliable95
    seen, most = fitted.function.reliable, one.step
    if seen > most:
        return (
            f"Even {one.amount_text(most)}{part} in {one.title} was not seen reliably in these "
            f"{result.total} answers. Look at dogs side by side first, then practise again."
        )
    end = one.amount_text(high) if high <= most else f"more than {one.amount_text(most)}"
    text = (
        f"You reliably see {one.amount_text(seen)}{part} in {one.title} "
        f"(95\u00a0% interval {one.amount_text(low)} to {end}): of differences that large you "
        "judge three in four rightly."
    )
    wide = high > LOOSE * max(low, 1e-12)
    return f"{text} The interval is still wide; another session narrows it." if wide else text


def _leaning(result: Result, choice: str) -> str:
    one, fitted = result.contrast, result.fitted
    low, high = fitted.location95
    if low <= 0.0 <= high:
        return f"No leaning can be told from {result.total} answers."
    at, wide = fitted.function.location, f"{one.amount_text(low)} to {one.amount_text(high)}"
    if choice == TWO:
        side = "left" if at < 0 else "right"
        return f"You lean towards the dog on the {side}, by {one.amount_text(at)} ({wide})."
    said, truly = (one.over, one.under) if at < 0 else (one.under, one.over)
    ends = sorted((abs(low), abs(high)))
    return (
        f"You lean towards calling dogs {said}: to you a dog looks as asked when it is "
        f"{one.amount_text(at)} {truly} ({one.amount_text(ends[0])} to {one.amount_text(ends[1])})."
    )
