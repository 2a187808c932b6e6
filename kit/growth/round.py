"""A measuring round: one measurement through the whole litter, then the next. A pure state.

The state knows puppies by name and mark and nothing of how readings are stored: whoever drives it
stores a reading first and then tells it so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kit.quantities.errors import DataFileError

# Colours of collars that are told apart by name; a litter may use marks of its own instead.
COLLARS = ("red", "blue", "green", "yellow", "orange", "purple", "pink", "white", "black",
           "brown", "light blue", "light green")  # fmt: skip
WEIGHT_FIRST = "weight"


@dataclass(frozen=True)
class RoundPuppy:
    """One puppy of the round: its identity for whoever stores, its name, and its mark."""

    identity: str
    name: str
    mark: str


@dataclass(frozen=True)
class Cell:
    """One puppy's turn at one measurement, of one side where it has two."""

    puppy: str
    measurement: str
    side: str = ""


@dataclass(frozen=True)
class Planned:
    """A measurement of the round, and the sides it is taken on while the puppy is in hand."""

    measurement: str
    sides: tuple[str, ...] = ("",)


@dataclass(frozen=True)
class Done:
    """What became of a cell: the reading stored for it, or none where it was skipped."""

    cell: Cell
    reading: str = ""


@dataclass(frozen=True)
class Round:
    """One round of a litter.

    Attributes
    ----------
    puppies : tuple of RoundPuppy
        In the order they are taken up.
    plan : tuple of Planned
        In the order they are taken; weight comes first if it is among them.
    done : tuple of Done
        In the order it happened.
    """

    puppies: tuple[RoundPuppy, ...]
    plan: tuple[Planned, ...]
    done: tuple[Done, ...] = ()
    chosen: Cell | None = None

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every turn in order: each measurement once round the litter."""
        return tuple(
            Cell(puppy.identity, planned.measurement, side)
            for planned in self.plan
            for puppy in self.puppies
            for side in planned.sides
        )

    @property
    def now(self) -> Cell | None:
        """The turn it is; None when the round is done."""
        if self.chosen is not None:
            return self.chosen
        settled = {done.cell for done in self.done}
        return next((cell for cell in self.cells if cell not in settled), None)

    @property
    def following(self) -> Cell | None:
        """The turn after this one."""
        settled = {done.cell for done in self.done} | ({self.now} if self.now else set())
        return next((cell for cell in self.cells if cell not in settled), None)

    def puppy(self, identity: str) -> RoundPuppy:
        """Return one puppy by its identity."""
        for puppy in self.puppies:
            if puppy.identity == identity:
                return puppy
        raise DataFileError("no such puppy in this round", "a puppy of the round", identity)

    def stored(self, reading: str, cell: Cell | None = None) -> Round:
        """Return the round after a reading was stored for a turn (this one unless told)."""
        return self._settled(Done(self._turn(cell), reading))

    def skipped(self) -> Round:
        """Return the round after this turn was left out."""
        return self._settled(Done(self._turn(None)))

    def go_to(self, cell: Cell) -> Round:
        """Return the round at another turn, for a puppy that will not wait."""
        if cell not in self.cells:
            raise DataFileError("no such turn in this round", given=f"{cell}")
        return replace(self, chosen=cell)

    def undone(self) -> tuple[Round, Done]:
        """Return the round one step back, and the step that was taken back.

        Raises
        ------
        DataFileError
            If nothing was done yet.
        """
        if not self.done:
            raise DataFileError("there is nothing to take back", do="measure a puppy first")
        last = self.done[-1]
        return replace(self, done=self.done[:-1], chosen=last.cell), last

    def corrected(self, before: str, after: str) -> Round:
        """Return the round with one reading's identity replaced by that of its correction."""
        done = tuple(replace(d, reading=after) if d.reading == before else d for d in self.done)
        return replace(self, done=done)

    def readings_at(self, cell: Cell) -> tuple[str, ...]:
        """Return the readings stored for one turn, repeats in order."""
        return tuple(done.reading for done in self.done if done.cell == cell and done.reading)

    def _turn(self, cell: Cell | None) -> Cell:
        turn = cell or self.now
        if turn is None:
            raise DataFileError("the round is done", do="go to a puppy, or begin a new round")
        if turn not in self.cells:
            raise DataFileError("no such turn in this round", given=f"{turn}")
        return turn

    def _settled(self, done: Done) -> Round:
        return replace(self, done=(*self.done, done), chosen=None)


def new_round(
    puppies: Sequence[RoundPuppy],
    measurements: Sequence[str],
    sides: Mapping[str, Sequence[str]] | None = None,
) -> Round:
    """Begin a round; weight comes first, because a chilled puppy should be done soonest.

    Parameters
    ----------
    sides : mapping of measurement to sides, optional
        Of those taken on both sides, or on one of them.

    Raises
    ------
    DataFileError
        If there is no puppy or measurement, or two puppies cannot be told apart.
    """
    if not puppies or not measurements:
        raise DataFileError("nothing to measure", "puppies and measurements")
    for what in ("identity", "mark"):
        given = [getattr(puppy, what).strip().lower() for puppy in puppies]
        named = [text for text in given if text]
        if len(set(named)) < len(named):
            twice = sorted({text for text in named if named.count(text) > 1})
            raise DataFileError(
                f"two puppies share the {what} {', '.join(twice)}", "one for each puppy",
                do="give one of them another collar or mark",
            )  # fmt: skip
    order = sorted(dict.fromkeys(measurements), key=lambda key: key != WEIGHT_FIRST)
    of = {key: tuple(both) for key, both in (sides or {}).items()}
    return Round(tuple(puppies), tuple(Planned(key, of.get(key, ("",))) for key in order))


def next_mark(taken: Sequence[str]) -> str:
    """Return the first collar colour not taken yet, or the puppy's number."""
    used = {mark.strip().lower() for mark in taken}
    return next((colour for colour in COLLARS if colour not in used), str(len(taken) + 1))


def worn(mark: str) -> str:
    """Word a mark: a colour is that of a collar, anything else is said as it is."""
    return f"{mark} collar" if mark.strip().lower() in COLLARS else mark
