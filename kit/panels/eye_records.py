"""The small forms' way into the records: grades, runs and critiques of one dog in one session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.movement.observations import Observation
from kit.records.entries import Stored
from kit.records.readings import digest
from kit.records.store import Store
from kit.reports.critique import Critique
from kit.reports.critique_saved import critique_to_save
from kit.standards.points import Grade
from kit.standards.standard import Standard


class EyeRecords:
    """Stores what the forms hold; what is kept again is a correction, never a second entry.

    Parameters
    ----------
    dog_id, session_id : str
        Identities of a dog and a session of the store.
    standard : Standard, optional
        What the critiques are held against.
    """

    def __init__(
        self, store: Store, dog_id: str, session_id: str, standard: Standard | None = None
    ) -> None:
        self.store, self.dog_id, self.session_id = store, dog_id, session_id
        self.standard = standard
        self._grades: dict[tuple[str, str], Stored[Grade]] = {}
        self._run: tuple[Observation, ...] = ()

    def grades(self, given: Sequence[Grade]) -> str:
        """Store the grades as they stand in the form now; return what was done, in words."""
        wanted = {(grade.point, grade.grader): grade for grade in given}
        kept = 0
        for key, grade in wanted.items():
            kept += self._grade(key, grade)
        gone = [key for key in self._grades if key not in wanted]
        for key in gone:
            self.store.grades.withdraw(self._grades.pop(key).id)
        taken = f", {len(gone)} taken back" if gone else ""
        return f"{kept} grades stored{taken}; {len(wanted)} in the records from this form."

    def _grade(self, key: tuple[str, str], grade: Grade) -> bool:
        """Store one grade unless it is there as it is; tell whether it was stored."""
        before = self._grades.get(key)
        if before is None:
            self._grades[key] = self.store.grades.add(self.dog_id, grade, self.session_id)
        elif replace(before.content, dog=grade.dog) != grade:
            self._grades[key] = self.store.grades.correct(before.id, grade)
        return self._grades[key] is not before

    def run(self, entries: Sequence[Observation]) -> str:
        """Store the observations of one run under the dog's next number, unless just stored."""
        given = tuple(entries)
        if given == self._run:
            return "This run is in the records already; change an entry for another run."
        runs = {row.content.run for row in self.store.movement.all(self.dog_id, history=True)}
        number = next(str(n) for n in range(1, len(runs) + 2) if str(n) not in runs)
        for one in given:
            self.store.movement.add(self.dog_id, replace(one, run=number), self.session_id)
        self._run = given
        return f"Run {number} stored: {len(given)} entries."

    def critique(self, critique: Critique, author: str) -> str:
        """Store a critique as it reads now, unless the same one is there."""
        counting = digest(self.store.readings(self.dog_id))
        name = next(dog.name for dog in self.store.dogs() if dog.id == self.dog_id)
        content = critique_to_save(critique, self.standard, author, counting)
        content = replace(content, dog=name)
        if any(row.content == content for row in self.store.critiques.all(self.dog_id)):
            return "This critique is in the records already, word for word."
        row = self.store.critiques.add(self.dog_id, content)
        return f"Critique stored in the records, {row.content.written}."
