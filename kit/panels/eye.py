"""What the eye adds at the table: grading points, a timed run, and the critique's own words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from io import StringIO
from typing import Any

import ipywidgets as widgets

from kit.movement.assessment import Movement, movement_of
from kit.movement.body import Body
from kit.movement.findings import movement_findings
from kit.movement.observations import Observation, make_observation
from kit.panels.eye_records import EyeRecords
from kit.panels.lessons.live import TOUCH, area, button, choice, into
from kit.panels.lessons.page import Shown, download, sentence, table
from kit.protocol.reading_files import write_rows
from kit.reports.critique import FORMS, LONG, Critique
from kit.reports.critique_build import Looked, write_critique
from kit.reports.critique_edit import as_text, edited
from kit.reports.critique_facts import movement_told, shown
from kit.reports.critique_html import critique_html
from kit.reports.critique_items import moving_item
from kit.reports.files import folder_name
from kit.reports.sentences import capital
from kit.standards.conformity import Levels
from kit.standards.points import SURE, Grade, PointClause, make_grade, points

NOT_GRADED = "not graded"
GRADE_COLUMNS = ("dog", "point", "grade", "sure", "grader", "time", "note")
_WIDE = widgets.Layout(width="min(640px, 100%)", height=TOUCH)
_LABELS = {"description_width": "172px"}
_BUTTON = widgets.Layout(width="auto", height=TOUCH)
_LEFT = widgets.Layout(align_items="flex-start", width="100%")


class GradingForm(widgets.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """One dog's points, each with its own scale and how sure one is; nothing is preset.

    Attributes
    ----------
    changed : list of callable
        Called without arguments whenever a grade changes.
    records : EyeRecords or None
        With records a button stores the grades there.
    """

    def __init__(
        self,
        dog: str,
        clauses: Sequence[PointClause] = (),
        day: str = "",
        records: EyeRecords | None = None,
    ) -> None:
        self.dog, self.day, self.records = dog, day, records
        self.changed: list[Callable[[], None]] = []
        self.scales = {clause.point: clause.scale for clause in clauses}
        self.grader = widgets.Text(description="Who grades", style=_LABELS, layout=_WIDE)
        self.rows = {key: self._row(key) for key in points()}
        self.place = area()
        save = button("Save the grades (CSV)", self._saved, self.place)
        rows = (row[2] for row in self.rows.values())
        keep = _keep_button(records, lambda one: one.grades(self.grades), self.place)
        super().__init__([self.grader, *rows, *keep, save, self.place], layout=_LEFT)
        self.grader.observe(self._tell, "value")

    def _row(self, key: str) -> tuple[Any, Any, Any]:
        one = points()[key]
        scale = self.scales.get(key, one.scale)
        grade = widgets.Dropdown(
            options=[NOT_GRADED, *scale], value=NOT_GRADED, description=capital(one.title),
            style=_LABELS, layout=_WIDE, tooltip=one.how,
        )  # fmt: skip
        sure = widgets.ToggleButtons(options=SURE, value=SURE[0], style={"button_width": "96px"})
        for control in (grade, sure):
            control.observe(self._tell, "value")
        row = widgets.Box([grade, sure], layout=widgets.Layout(flex_flow="row wrap"))
        return grade, sure, row

    def _tell(self, _: object = None) -> None:
        for told in self.changed:
            told()

    @property
    def grades(self) -> tuple[Grade, ...]:
        """The grades given so far."""
        return tuple(
            make_grade(self.dog, key, grade.value, tuple(grade.options), sure.value,
                       self.grader.value.strip(), self.day)
            for key, (grade, sure, _) in self.rows.items()
            if grade.value != NOT_GRADED
        )  # fmt: skip

    def _saved(self) -> Shown:
        """Hand the grades over; they are handed over, not kept here."""
        given = self.grades
        if not given:
            return sentence("No point has been graded yet.")
        file = StringIO(newline="")
        rows = [(g.dog, g.point, g.grade, g.sure, g.grader, g.time, g.note) for g in given]
        write_rows(file, GRADE_COLUMNS, rows)
        name = f"{folder_name(self.dog)}-grades.csv"
        content = file.getvalue().encode()
        return download(content, name, "text/csv", f"Save {len(given)} grades (CSV)")


def _keep_button(
    records: EyeRecords | None, keep: Callable[[EyeRecords], str], place: Any
) -> list[Any]:
    """Return a button that stores in the records, where there are any."""
    if records is None:
        return []
    return [button("Store in the records", lambda: sentence(keep(records)), place)]


def timed_run(dog: str, body: Body, records: EyeRecords | None = None) -> Any:
    """Return a form for one run by stopwatch, with what it says as it is typed.

    With records a button stores the run there.
    """
    pace = choice("Asked for", {"walk": "walk", "trot": "trot"}, "trot")
    fields = {
        "distance": _field("Distance, m", "12"),
        "time": _field("Time, s", ""),
        "strides": _field("Strides of one foot", ""),
    }
    place, told = area(), area()

    def entries() -> list[Observation]:
        texts = {key: field.value.strip() for key, field in fields.items()}
        return _run_entries(dog, pace.value, texts)

    def refresh(_: object = None) -> None:
        into(place, lambda: _run_said(dog, body, entries()))

    def store(one: EyeRecords) -> str:
        given = entries()
        return one.run(given) if given else "Fill in distance, time and strides first."

    for control in (pace, *fields.values()):
        control.observe(refresh, "value")
    refresh()
    row = widgets.Box([pace, *fields.values()], layout=widgets.Layout(flex_flow="row wrap"))
    return widgets.VBox([row, *_keep_button(records, store, told), told, place])


def _field(title: str, value: str) -> Any:
    return widgets.Text(
        value=value, description=title, style={"description_width": "initial"},
        layout=widgets.Layout(width="230px", height=TOUCH),
    )  # fmt: skip


def _run_entries(dog: str, pace: str, texts: Mapping[str, str]) -> list[Observation]:
    """Return the observations of the run; none while a field is empty."""
    if not all(texts.values()):
        return []
    units = {"distance": "m", "time": "s", "strides": "1"}
    return [make_observation(dog or "this dog", what, text, units[what], run="1", pace=pace)
            for what, text in texts.items()]  # fmt: skip


def _run_said(dog: str, body: Body, entries: Sequence[Observation]) -> Shown:
    if not entries:
        return sentence("Distance, time and strides together give speed, stride and steps.")
    return run_html(entries, dog or "this dog", body)


def run_html(entries: Sequence[Observation], dog: str, body: Body) -> str:
    """Return what some observations of one dog say: sentences, and every figure."""
    movement = movement_of(dog, entries, body)
    said = "".join(sentence(piece.text) for piece, _ in movement_told(movement))
    for finding in movement_findings(movement, (), Levels()):
        item = moving_item(finding)
        said += sentence(f"{item.evidence.label}: {item.evidence.text}")
    return said + _figures(movement)


def _figures(movement: Movement) -> str:
    rows = [
        [capital(figure.figure.title), shown(figure), figure.figure.source]
        for pace in movement.paces.values()
        for figure in pace.figures.values()
    ]
    return table(["Figure", "Value, ± half the 95 % interval", "Source"], rows)


class CritiqueEditor(widgets.VBox):  # type: ignore[misc]  # ipywidgets ships no types
    """A critique as text to be changed, and as it will read; saved by whoever wrote it.

    With records a button stores it there.
    """

    def __init__(
        self, looked: Callable[[], Looked], day: str, records: EyeRecords | None = None
    ) -> None:
        self.looked, self.day = looked, day
        self.form = choice("Form", {"for the owner": LONG, "for the ringside": FORMS[0]}, LONG)
        self.by = widgets.Text(description="Written by", style=_LABELS, layout=_WIDE)
        self.text = widgets.Textarea(layout=widgets.Layout(width="100%", height="360px"))
        self.place, self.files = area(), area()
        save = button("Save the critique", self._saved, self.files)
        anew = widgets.Button(description="Write the text anew", layout=_BUTTON)
        anew.on_click(lambda _: self.rewrite())
        keep = _keep_button(records, self._stored, self.files)
        buttons = widgets.HBox([*keep, save, anew])
        super().__init__(
            [self.form, self.by, self.text, buttons, self.files, self.place], layout=_LEFT
        )
        self.last = ""
        self.form.observe(lambda _: self.follow(), "value")
        self.text.observe(lambda _: self._show(), "value")
        self.rewrite()

    @property
    def original(self) -> Critique:
        """The critique as the kit writes it."""
        return write_critique(self.looked(), self.form.value, self.day, self.by.value.strip())

    @property
    def critique(self) -> Critique:
        """The critique as the text stands now."""
        return edited(self.original, self.text.value)

    def rewrite(self) -> None:
        """Write the text anew from what is known now; changes to the old one are lost."""
        self.last = as_text(self.original)
        self.text.value = self.last

    def follow(self) -> None:
        """Write the text anew after a new grade or form, unless a person has changed it."""
        if self.text.value == self.last:
            self.rewrite()
        else:
            self._show()

    def _show(self) -> None:
        into(self.place, lambda: page_in_page(critique_html(self.critique), 700))

    def _stored(self, records: EyeRecords) -> str:
        return records.critique(self.critique, self.by.value.strip())

    def _saved(self) -> Shown:
        critique = self.critique
        name = f"{folder_name(critique.dog)}-critique-{self.day}"
        page = critique_html(critique).encode()
        return (
            sentence(f"Dated {self.day}, held against {critique.standard}, {critique.version}.")
            + download(page, f"{name}.html", "text/html", "Save the critique (web page)")
            + download(self.text.value.encode(), f"{name}.txt", "text/plain", "Save its text")
        )


def page_in_page(document: str, height: int) -> str:
    """Show a whole document inside the page, kept apart from it."""
    look = f"width:100%;height:{height}px;border:1px solid #ded5c8"
    return (
        f'<iframe title="The critique" sandbox style="{look}" srcdoc="{escape(document)}"></iframe>'
    )
