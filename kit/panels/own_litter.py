"""The person's own litters, out of the records: what they bear so far, and the litter sheet."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from kit.growth.puppies import growth_record
from kit.growth.study import LitterStudy, study_litter
from kit.panels.lessons.live import area, button, choice
from kit.panels.lessons.page import Shown, download, notice, sentence
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import KitError
from kit.records.puppies import followed, has_age
from kit.records.store import Store, open_store
from kit.reports.growth_content import litter_report
from kit.reports.growth_files import write_litter_report

NONE_YET = "No puppy in the records has a whelping date yet. Add one above and weigh it first."


class OwnLitter:
    """A chooser of a litter and two buttons; the records are read anew at every press.

    Attributes
    ----------
    box : widget
        What the notebook shows.
    """

    def __init__(self, database: str | Path | None = None) -> None:
        self.database = database
        self.litter = choice("Litter", [])
        self.place = area()
        row = [
            self.litter,
            button("Show the litter", self.shown, self.place),
            button("Make its sheet", self.sheet, self.place),
        ]
        flow = widgets.Layout(flex_flow="row wrap", grid_gap="4px 16px")
        self.box = widgets.VBox([widgets.Box(row, layout=flow), self.place])

    def shown(self) -> Sequence[Shown]:
        """Return alerts, doubts and pictures of the chosen litter, the youngest at first."""
        with open_store(self.database) as store:
            if not self._choose(store):
                return [sentence(NONE_YET)]
            content = litter_report(self._study(store), self._name)
        said = content.alerts or (content.quiet,)
        pieces: list[Shown] = [(notice if content.alerts else sentence)(text) for text in said]
        pieces += [sentence(text) for text in content.doubts]
        pieces += [picture.scene for picture in content.pictures]
        return [*pieces, *(sentence(text) for text in content.refused)]

    def sheet(self) -> Sequence[Shown]:
        """Return links to the chosen litter's sheet, as PDF and as HTML."""
        with open_store(self.database) as store:
            if not self._choose(store):
                return [sentence(NONE_YET)]
            study = self._study(store)
        with tempfile.TemporaryDirectory() as folder:
            made = write_litter_report(study, Path(folder), self._name)
            pdf, html = made.pdf.read_bytes(), made.html.read_bytes()
        name = f"litter-of-{self.litter.value}"
        return [
            download(pdf, f"{name}.pdf", "application/pdf", "The sheet to print (PDF)"),
            download(html, f"{name}.html", "text/html", "The sheet to look at (HTML)"),
        ]

    @property
    def _name(self) -> str:
        return f"Litter of {self.litter.value}"

    def _choose(self, store: Store) -> bool:
        """Offer the litters there are now, keep the choice; tell whether there is any."""
        born = sorted({dog.born for dog in store.dogs() if has_age(dog)}, reverse=True)
        if list(self.litter.options) != born:
            chosen = self.litter.value
            self.litter.options = born
            self.litter.value = chosen if chosen in born else next(iter(born), None)
        return bool(born)

    def _study(self, store: Store) -> LitterStudy:
        dogs = [dog for dog in store.dogs() if dog.born == self.litter.value]
        readings, puppies = followed(store, dogs)
        if not readings:
            raise KitError("nothing was read of this litter yet", do="weigh it in a round first")
        return study_litter(growth_record(readings, puppies, catalogue()), catalogue())


def own_litter(database: str | Path | None = None) -> Any:
    """Return the widget; see `OwnLitter`."""
    return OwnLitter(database).box
