"""Choosers and sliders with a picture that follows them; a fault in it is shown, never lost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import ipywidgets as widgets
import traitlets

from kit.drawing.palette import colour
from kit.panels.lessons.page import Shown, as_html, notice, sentence
from kit.quantities.errors import KitError

TOUCH = "44px"  # the least height a finger hits
_STYLE = {"description_width": "initial"}
_TOGGLES = (
    "<style>.conformation-toggles button{box-shadow:none!important;border-radius:4px;"
    f"background:{colour('white')}!important;border:1px solid {colour('faint_line')};"
    f"color:{colour('quiet_text')}}}"
    f".conformation-toggles button.mod-active{{background:{colour('band')}!important;"
    f"border-color:{colour('inside')};color:{colour('text')}}}</style>"
)


def slider(title: str, value: float, low: float, high: float, step: float = 0.1) -> Any:
    """Return a slider."""
    return widgets.FloatSlider(
        value=value, min=low, max=high, step=step, description=title, style=_STYLE,
        readout_format=".1f" if step >= 0.1 else ".2f",
        layout=widgets.Layout(width="min(430px, 100%)", height=TOUCH),
    )  # fmt: skip


def choice(title: str, options: Mapping[str, str] | Sequence[str], value: str = "") -> Any:
    """Return a chooser of one; a mapping goes from what is shown to what is meant."""
    pairs = list(options.items()) if isinstance(options, Mapping) else list(options)
    chosen = {"value": value} if value else {}
    return widgets.Dropdown(
        options=pairs, description=title, style=_STYLE, **chosen,
        layout=widgets.Layout(width="auto", max_width="100%", height=TOUCH),
    )  # fmt: skip


def several(title: str, options: Mapping[str, str], chosen: Iterable[str]) -> Any:
    """Return a chooser of any number of a long list, from what is shown to what is meant."""
    return widgets.SelectMultiple(
        options=list(options.items()), value=tuple(chosen), description=title,
        style=_STYLE, layout=widgets.Layout(width="min(520px, 100%)", height="132px"),
    )  # fmt: skip


class Toggles(widgets.Box):  # type: ignore[misc]  # ipywidgets ships no types
    """A row of buttons that are each in or out; `value` names those that are in, in order."""

    value = traitlets.Tuple()

    def __init__(self, names: Sequence[str]) -> None:
        self.toggles = [
            widgets.ToggleButton(
                value=True, description=name, layout=widgets.Layout(width="auto", height=TOUCH)
            )
            for name in names
        ]
        look = widgets.HTML(_TOGGLES, layout=widgets.Layout(display="none"))
        super().__init__(
            [*self.toggles, look],
            layout=widgets.Layout(flex_flow="row wrap", grid_gap="4px 8px", width="100%"),
        )
        self.add_class("conformation-toggles")
        for each in self.toggles:
            each.observe(self._gather, "value")
        self._gather()

    def _gather(self, _: object = None) -> None:
        self.value = tuple(each.description for each in self.toggles if each.value)


def button(title: str, act: Callable[[], Shown | Sequence[Shown]], place: Any) -> Any:
    """Return a button that shows in `place` what `act` returns, or its fault."""
    made = widgets.Button(
        description=title, button_style="primary",
        layout=widgets.Layout(width="auto", height=TOUCH),
    )  # fmt: skip

    def run(_: object) -> None:
        place.value = sentence("One moment …")
        into(place, act)

    made.on_click(run)
    return made


def area() -> Any:
    """Return an empty place for HTML."""
    return widgets.HTML(layout=widgets.Layout(width="100%"))


def live(show: Callable[..., Shown | Sequence[Shown]], **controls: Any) -> Any:
    """Return controls with what `show` makes of their values below, kept up to date.

    `show` takes the value of each control under its name and returns a picture, HTML, or several
    of them. The place it is shown in is made once and filled anew: new widgets would pile up.
    """
    place = area()

    def refresh(_: object = None) -> None:
        into(place, lambda: show(**{name: made.value for name, made in controls.items()}))

    for made in controls.values():
        made.observe(refresh, "value")
    refresh()
    row = widgets.Box(
        list(controls.values()), layout=widgets.Layout(flex_flow="row wrap", grid_gap="4px 28px")
    )
    return widgets.VBox([row, place])


def into(place: Any, make: Callable[[], Shown | Sequence[Shown]]) -> None:
    """Show in `place` what `make` returns; a fault in a callback would else be seen nowhere."""
    try:
        place.value = as_html(make())
    except KitError as fault:
        place.value = notice(str(fault))
    except Exception as fault:
        place.value = notice(f"Something went wrong here: {type(fault).__name__}: {fault}")
